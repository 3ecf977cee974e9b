package httpapi

import (
	"encoding/json"
	"errors"
	"path"
	"strings"

	"meniscus/internal/calculation"
	"meniscus/internal/fault"
	"meniscus/internal/paper"
	"meniscus/internal/plain"
)

// compute answers with the result of a computation, as JSON or text. A result that is not
// a number is a fault of the request, not of the service.
func compute[Request, Answer any](
	work calculation.Computation[Request, Answer], text func(Answer) plain.Text,
) handler {
	return func(s *Server, c *requestContext) (*answer, error) {
		found, err := computed(s, c, work)
		if err != nil {
			return nil, err
		}
		if c.mediaType == htmlType || c.mediaType == pdfType {
			return printed(c, paper.Card(strings.ReplaceAll(path.Base(c.op.path), "-", " "), text(found).Paragraphs()))
		}
		a, err := c.tell(found, func() plain.Text { return text(found) })
		if _, none := errors.AsType[*json.UnsupportedValueError](err); none {
			return nil, fault.New("result-not-finite", "",
				"With these numbers the result is too large or too small to be a number; "+
					"check their units and powers of ten.")
		}
		return a, err
	}
}

// computed reads the body of a computation and works it out with the knowledge that
// the caller may use.
func computed[Request, Answer any](
	s *Server, c *requestContext, work calculation.Computation[Request, Answer],
) (found Answer, err error) {
	request, err := decode[Request](c)
	if err != nil {
		return found, err
	}
	base, err := s.knowledge(c)
	if err != nil {
		return found, err
	}
	return work(base, request, c.detail())
}

// svgType is the media type of drawings.
const svgType = "image/svg+xml"

// computeSolventBlend answers what a mixture of solvents is like, or draws it.
func computeSolventBlend(s *Server, c *requestContext) (*answer, error) {
	if c.mediaType != svgType {
		return compute(calculation.SolventBlend, calculation.SolventBlendText)(s, c)
	}
	drawing, err := computed(s, c, calculation.TeasTriangle)
	if err != nil {
		return nil, err
	}
	return &answer{body: drawing}, nil
}
