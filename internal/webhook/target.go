package webhook

import (
	"errors"
	"net/netip"
	"net/url"
	"strings"
)

// Targets says where deliveries may go: any public address, and of the others
// only what the operator has allowed.
type Targets struct{ allowed []netip.Prefix }

// ParseTargets reads the address ranges that the operator allows beside public
// ones: "10.20.0.0/16, ::1/128".
func ParseTargets(text string) (Targets, error) {
	var t Targets
	for part := range strings.SplitSeq(text, ",") {
		if part = strings.TrimSpace(part); part == "" {
			continue
		}
		p, err := netip.ParsePrefix(part)
		if err != nil {
			return t, errors.New("write address ranges with commas between, such as 10.20.0.0/16 or 127.0.0.0/8")
		}
		t.allowed = append(t.allowed, p.Masked())
	}
	return t, nil
}

// ErrTarget says that an address may not be delivered to.
var ErrTarget = errors.New("this address is inside a network (loopback, link-local, private or reserved) and the " +
	"operator has not allowed it")

// closed are the ranges of the IANA special-purpose registries that are not
// globally reachable, or that carry an IPv4 address which may not be, and
// multicast. (RFC 6890 and its updates; recalled.)
var closed = prefixes(
	"0.0.0.0/8", "10.0.0.0/8", "100.64.0.0/10", "127.0.0.0/8", "169.254.0.0/16", "172.16.0.0/12",
	"192.0.0.0/24", "192.0.2.0/24", "192.88.99.0/24", "192.168.0.0/16", "198.18.0.0/15",
	"198.51.100.0/24", "203.0.113.0/24", "224.0.0.0/4", "240.0.0.0/4",
	"::/96", "64:ff9b::/96", "64:ff9b:1::/48", "100::/64", "2001::/23", "2001:db8::/32",
	"2002::/16", "3fff::/20", "5f00::/16", "fc00::/7", "fe80::/10", "fec0::/10", "ff00::/8",
)

func prefixes(texts ...string) []netip.Prefix {
	list := make([]netip.Prefix, len(texts))
	for i, text := range texts {
		list[i] = netip.MustParsePrefix(text)
	}
	return list
}

// Check tells whether an address may be delivered to: nil, or ErrTarget. It must
// be called with the address that is dialled, not with a name.
func (t Targets) Check(addr netip.Addr) error {
	addr = addr.Unmap().WithZone("")
	if t.Allows(addr) {
		return nil
	}
	for _, p := range closed {
		if p.Contains(addr) {
			return ErrTarget
		}
	}
	if !addr.IsGlobalUnicast() {
		return ErrTarget
	}
	return nil
}

// Allows tells whether the operator allowed the address; only to such an address
// may a delivery go without TLS.
func (t Targets) Allows(addr netip.Addr) bool {
	for _, p := range t.allowed {
		if p.Contains(addr.Unmap().WithZone("")) {
			return true
		}
	}
	return false
}

// insideNames are names that never resolve to a public address. They are refused when
// a URL is entered, so that a mistake shows at once. The dialled address decides.
var insideNames = []string{"localhost", ".localhost", ".local", ".internal", ".lan", ".home.arpa"}

// CheckURL tells whether an endpoint's URL may be kept: what is wrong with it in one sentence,
// "" where it may. A name is not looked up: it may resolve to another address later.
func (t Targets) CheckURL(text string) (wrong string) {
	u, err := url.Parse(text)
	switch {
	case err != nil || u.Host == "" || u.Opaque != "":
		return "Write an absolute URL, such as https://catalogue.museum.example/treatments."
	case u.User != nil:
		return "Leave the user name and the password out of the URL; deliveries are signed instead."
	case u.Fragment != "" || strings.HasSuffix(text, "#"):
		return "Leave the fragment out of the URL; it is never sent."
	case u.Scheme != "https" && !(u.Scheme == "http" && len(t.allowed) > 0):
		return "Write an https URL; plain http is only for addresses that the operator has allowed."
	}
	if addr, err := netip.ParseAddr(u.Hostname()); err == nil {
		if t.Check(addr) != nil {
			return "This address is inside a network; the operator can allow it (MENISCUS_WEBHOOK_ALLOW_PRIVATE)."
		}
		return ""
	}
	name := strings.ToLower(strings.TrimSuffix(u.Hostname(), "."))
	for _, inside := range insideNames {
		if len(t.allowed) == 0 && (name == inside || strings.HasPrefix(inside, ".") && strings.HasSuffix(name, inside)) {
			return "This name is inside a network; the operator can allow its addresses (MENISCUS_WEBHOOK_ALLOW_PRIVATE)."
		}
	}
	return ""
}
