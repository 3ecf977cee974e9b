package httpapi

import (
	"meniscus/internal/fault"
	"meniscus/internal/publish"
)

// public lets caches share a document, and pages of any origin read it: it is the same
// for all callers and holds nothing of any institution.
func public(a *answer, err error) (*answer, error) {
	if err == nil {
		a.setHeader("Cache-Control", "public, max-age=3600")
		a.setHeader("Access-Control-Allow-Origin", "*")
	}
	return a, err
}

func readVocabulary(_ *Server, c *requestContext) (*answer, error) {
	if c.mediaType == htmlType {
		return public(htmlAnswer(publish.VocabularyPage(c.address())))
	}
	body, err := publish.VocabularyLD(c.address())
	return public(documentAnswer(linkedDataType, body, err))
}

func readTerm(_ *Server, c *requestContext) (*answer, error) {
	term, found := publish.FindTerm(c.echo.Param("term"))
	if !found {
		return nil, fault.Of(fault.NotFound, "term-unknown", "There is no such term; /vocabulary lists them all.")
	}
	if c.mediaType == htmlType {
		return public(htmlAnswer(publish.TermPage(c.address(), term)))
	}
	body, err := publish.TermLD(c.address(), term)
	return public(documentAnswer(linkedDataType, body, err))
}

func readLinkedArtContext(*Server, *requestContext) (*answer, error) {
	return public(documentAnswer(linkedDataType, publish.Context, nil))
}
