package httpapi

import (
	"compress/gzip"
	"encoding/hex"
	"io"

	"meniscus/api"
	"meniscus/internal/edtf"
	"meniscus/internal/fault"
	"meniscus/internal/postgres"
	"meniscus/internal/views"
)

// listReportRuns pages through what a schedule made, the latest first.
func listReportRuns(s *Server, c *requestContext) (*answer, error) {
	of, err := c.tenant().ReportSchedule(c.ctx(), c.id("reportScheduleId"))
	if err != nil {
		return nil, err
	}
	before, err := c.cursor()
	if err != nil {
		return nil, err
	}
	limit := c.number("limit")
	runs, notices, err := c.tenant().ReportRuns(c.ctx(), of.ID, before, limit+1)
	if err != nil {
		return nil, err
	}
	list := api.ReportRunList{Items: []api.ReportRun{}}
	for _, r := range runs[:min(limit, len(runs))] {
		list.Items = append(list.Items, s.runOf(r, notices))
	}
	if len(runs) <= limit {
		return ok(list)
	}
	n := c.next(idCursor(runs[limit-1].ID))
	list.Next = &api.Next{Cursor: n.cursor, Href: n.href}
	a, err := ok(list)
	return linked(a, err, list.Next)
}

func (s *Server) runOf(r postgres.ReportRun, notices []postgres.ReportNotice) api.ReportRun {
	out := api.ReportRun{
		Id: r.ID, DueAt: r.DueAt, Missed: int64(r.Missed), State: "waiting",
		Attempts: int64(r.Attempts), MadeAt: r.MadeAt, FailedAt: r.FailedAt, Sentence: said(r.Sentence),
		MediaType: r.MediaType, Size: r.Size, KeptUntil: r.KeptUntil, Notices: []api.ReportNotice{},
	}
	if r.From != nil && r.Until != nil {
		from, until := views.Day(edtf.DayOf(*r.From)), views.Day(edtf.DayOf(*r.Until))
		out.From, out.Until = &from, &until
	}
	switch {
	case r.DroppedAt != nil:
		out.State = "over"
	case r.MadeAt != nil:
		out.State = "ready"
		out.File = said(s.publicURL + "/v1/report-schedules/" + r.Schedule.String() + "/runs/" + r.ID.String() + "/file")
	case r.FailedAt != nil:
		out.State = "failed"
	case r.Sentence != "":
		out.NextAttemptAt = &r.TryAt
	}
	if r.SHA256 != nil {
		out.Sha256 = said(hex.EncodeToString(r.SHA256))
	}
	for _, n := range notices {
		if n.Run == r.ID {
			out.Notices = append(out.Notices, noticeOf(n))
		}
	}
	return out
}

func noticeOf(n postgres.ReportNotice) api.ReportNotice {
	out := api.ReportNotice{Webhook: api.Ref(n.Webhook), State: "waiting", Attempts: int64(n.Attempts), Sentence: said(n.Sentence)}
	switch {
	case n.DeliveredAt != nil:
		out.State = "delivered"
	case n.GivenUpAt != nil:
		out.State = "given-up"
	case n.Attempts > 0:
		out.NextAttemptAt = &n.DueAt
	}
	return out
}

// readReportFile streams a report that is kept, a piece at a time.
func readReportFile(s *Server, c *requestContext) (*answer, error) {
	run, err := c.tenant().ReportRun(c.ctx(), c.id("reportScheduleId"), c.id("reportRunId"))
	if err != nil {
		return nil, err
	}
	switch {
	case run.DroppedAt != nil:
		return nil, fault.Of(fault.Conflict, "report-over",
			"The time for which this report was kept is over; the schedule says how long that is.")
	case run.MadeAt == nil:
		return nil, fault.Of(fault.Conflict, "report-not-ready",
			"This report is not ready; the list of runs says how it stands.")
	}
	if preferred(c.echo.Request().Header.Values("Accept"), []string{run.MediaType}) == "" {
		return nil, fault.Of(fault.NotAcceptable, "media-type-not-given", "This report was made as %s.", run.MediaType)
	}
	since, err := c.tenant().RestrictedSince(c.ctx(), *run.MadeAt)
	if err == nil && since {
		err = postgres.ErrWithheld // the file may say what was restricted after it was made
	}
	if err != nil {
		return nil, err
	}
	first, err := c.tenant().ReportPiece(c.ctx(), run, 0)
	if err != nil {
		return nil, err
	}
	z, err := gzip.NewReader(&keptPieces{next: first, more: func(position int) ([]byte, error) {
		return c.tenant().ReportPiece(c.ctx(), run, position)
	}})
	if err != nil {
		return nil, err
	}
	a := &answer{mediaType: run.MediaType, stream: func(w io.Writer) error {
		_, err := io.Copy(w, z)
		return err
	}}
	a.setHeader("Content-Disposition", `attachment; filename="`+fileName(run)+`"`)
	return a, nil
}

func fileName(run postgres.ReportRun) string {
	ending := ".json"
	if run.MediaType == "text/csv" {
		ending = ".csv"
	}
	return "report-" + run.DueAt.UTC().Format("2006-01-02") + ending
}

// keptPieces reads the pieces of a file one after another; only one is held.
type keptPieces struct {
	next     []byte
	position int
	more     func(position int) ([]byte, error)
}

// Read gives what is left of the piece, or of the next.
func (k *keptPieces) Read(b []byte) (int, error) {
	if len(k.next) == 0 {
		var err error
		k.position++
		if k.next, err = k.more(k.position); err != nil {
			return 0, err
		}
		if len(k.next) == 0 {
			return 0, io.EOF
		}
	}
	n := copy(b, k.next)
	k.next = k.next[n:]
	return n, nil
}
