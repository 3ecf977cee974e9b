package httpapi

import (
	"net/url"

	"meniscus/api"
	"meniscus/internal/plain"
)

// detail is how much of an answer is wanted: in brief, unless the caller asks for all of
// it or the operation has no `detail`.
func (c *requestContext) detail() api.Detail {
	if c.op.query["detail"] == nil || c.text("detail") == string(api.Full) {
		return api.Full
	}
	return api.Brief
}

// tell answers a question (`answers: true` in the contract): with a value of the contract
// as JSON, or with what the same value says as text. In brief, a long text ends with the
// address where it is told in full.
func (c *requestContext) tell(v any, text func() plain.Text) (*answer, error) {
	a, err := ok(v)
	if err != nil || c.mediaType != plainType {
		return a, err
	}
	said := text()
	if c.detail() == api.Full {
		return documentAnswer(plainType+"; charset=utf-8", []byte(said.Whole()), nil)
	}
	return documentAnswer(plainType+"; charset=utf-8", []byte(said.Short(c.inFull())), nil)
}

// inFull is the address of what was asked, with all of its answer.
func (c *requestContext) inFull() string {
	asked := c.echo.Request().URL
	query := url.Values{}
	for name, values := range asked.Query() { // the query was checked before
		query[name] = values
	}
	query.Set("detail", string(api.Full))
	return string(c.address()) + asked.EscapedPath() + "?" + query.Encode()
}
