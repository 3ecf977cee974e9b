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
	view := views.BatchContents(id, book)
	if book.UsesWithheld {
		view.Cautions = append(view.Cautions, usesWithheld)
	}
	return tellContents.answer(c, view)
}

// usesWithheld is said of any batch where anything is restricted.
const usesWithheld = "Restricted treatments are withheld here: what they used of any batch is not counted."

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
	book.UsesWithheld, err = c.tenant().AnyWithheld(c.ctx())
	return book, err
}
