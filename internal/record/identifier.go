package record

import (
	"regexp"
	"strconv"
	"strings"

	"meniscus/internal/fault"
)

// orcidPattern takes a bare iD or its web address.
var orcidPattern = regexp.MustCompile(`^(?:https?://orcid\.org/)?(\d{4}-\d{4}-\d{4}-\d{3}[\dX])$`)

// ParseORCID reads an ORCID iD, bare or as a web address, and gives the bare
// form, such as 9999-1234-5678-9011, which has a right check digit and is no person's: iDs are
// assigned from 0000-0001-5000-0007 to 0000-0003-5000-0001 and from 0009-0000-0000-0000
// on (recalled).
//
// The last character checks the others by ISO 7064 MOD 11-2: t = 0; for each of
// the first 15 digits d, t = (t + d)·2; the check is (12 − t mod 11) mod 11,
// with 10 written X. Source: ORCID, Structure of the ORCID Identifier.
func ParseORCID(text string) (string, error) {
	m := orcidPattern.FindStringSubmatch(text)
	if m == nil {
		return "", fault.New("orcid-malformed", "", "An ORCID iD is four groups of four digits, "+
			"such as 9999-1234-5678-9011; the last one may be an X.")
	}
	digits := strings.ReplaceAll(m[1], "-", "")
	if orcidCheck(digits[:15]) != digits[15] {
		return "", fault.New("orcid-check-digit", "", "The check digit of this ORCID iD is wrong, so a digit is mistyped; "+
			"copy it from the person's own page.")
	}
	return m[1], nil
}

func orcidCheck(digits string) byte {
	t := 0
	for _, d := range digits {
		t = (t + int(d-'0')) * 2
	}
	return "0123456789X"[(12-t%11)%11]
}

// rorPattern takes a bare ROR id or its web address, in lower case.
var rorPattern = regexp.MustCompile(`^(?:https?://)?(?:ror\.org/)?(0[a-hj-km-np-tv-z0-9]{6})(\d{2})$`)

// crockford is the alphabet of the base-32 digits in a ROR id.
const crockford = "0123456789abcdefghjkmnpqrstvwxyz"

// ParseROR reads a ROR id in any case, bare or as a web address, and gives the
// bare form, such as 0zyxwvt21, which is made up.
//
// The first seven characters are a number n in Crockford's base 32; the last two
// digits are 98 − (100·n mod 97), so that 100·n plus the check leaves 1 on
// division by 97. Source: the identifier's published pattern; the arithmetic was
// checked against published ids.
func ParseROR(text string) (string, error) {
	m := rorPattern.FindStringSubmatch(strings.ToLower(text))
	if m == nil {
		return "", fault.New("ror-malformed", "", "A ROR id is nine characters, 0 first and two digits last, "+
			"such as 0zyxwvt21.")
	}
	n := 0
	for _, c := range m[1] {
		n = n*32 + strings.IndexRune(crockford, c)
	}
	if check, _ := strconv.Atoi(m[2]); check != 98-100*n%97 {
		return "", fault.New("ror-check-digits", "", "The check digits of this ROR id are wrong, "+
			"so a character is mistyped; copy it from the registry.")
	}
	return m[1] + m[2], nil
}
