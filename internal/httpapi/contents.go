package httpapi

import (
	"github.com/google/uuid"

	"meniscus/internal/record"
	"meniscus/internal/recording"
	"meniscus/internal/stock"
	"meniscus/internal/views"
)

// readBatchContents answers what a batch holds as it was made, and what is left.
func readBatchContents(s *Server, c *requestContext) (*answer, error) {
	id := c.id("batchId")
	if err := s.mustExist(c, record.KindBatch, id); err != nil {
		return nil, err
	}
	book, err := s.book(c, []uuid.UUID{id})
	if err != nil {
		return nil, err
	}
	return tellContents.answer(c, views.BatchContents(id, book))
}

// book reads the entries about batches.
func (s *Server) book(c *requestContext, batches []uuid.UUID) (*stock.Book, error) {
	base, err := s.knowledge(c)
	if err != nil {
		return nil, err
	}
	rows, err := c.tenant().ShelfOf(c.ctx(), batches)
	if err != nil {
		return nil, err
	}
	book, unread := recording.Book(base, rows)
	s.logUnread(unread...)
	return book, nil
}
