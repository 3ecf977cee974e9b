package httpapi

import "strings"

// preference gives the value of `return` in Prefer (RFC 7240): minimal,
// representation, or "" when it says neither. A preference that is not known is
// never a fault.
func preference(headers []string) string {
	for _, part := range strings.Split(strings.Join(headers, ","), ",") {
		preference, _, _ := strings.Cut(part, ";")
		name, value, _ := strings.Cut(preference, "=")
		if !strings.EqualFold(strings.TrimSpace(name), "return") {
			continue
		}
		if value = strings.Trim(strings.TrimSpace(value), `"`); value == "minimal" || value == "representation" {
			return value
		}
	}
	return ""
}

// prefer leaves the body of a create out when the caller asks for that: its
// Location and its ETag say enough.
func (c *requestContext) prefer(a *answer) {
	if !a.maybeMinimal {
		return
	}
	a.vary("Prefer")
	wanted := preference(c.echo.Request().Header.Values("Prefer"))
	if wanted == "" {
		return
	}
	a.setHeader("Preference-Applied", "return="+wanted)
	if wanted == "minimal" {
		a.body = nil
	}
}
