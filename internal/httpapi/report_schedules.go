package httpapi

import (
	"net/http"
	"net/url"
	"strings"
	"time"

	jsonv2 "github.com/go-json-experiment/json"
	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/calendar"
	"meniscus/internal/fault"
	"meniscus/internal/postgres"
	"meniscus/internal/wire"
)

func listReportSchedules(s *Server, c *requestContext) (*answer, error) {
	after, err := c.cursor()
	if err != nil {
		return nil, err
	}
	limit := c.number("limit")
	found, err := c.tenant().ReportSchedules(c.ctx(), after, limit+1)
	if err != nil {
		return nil, err
	}
	list := api.ReportScheduleList{Items: []api.ReportSchedule{}}
	for _, r := range found[:min(limit, len(found))] {
		shown, err := scheduleOf(r)
		if err != nil {
			return nil, err
		}
		list.Items = append(list.Items, shown)
	}
	if len(found) <= limit {
		return ok(list)
	}
	n := c.next(idCursor(found[limit-1].ID))
	list.Next = &api.Next{Cursor: n.cursor, Href: n.href}
	a, err := ok(list)
	return linked(a, err, list.Next)
}

func createReportSchedule(s *Server, c *requestContext) (*answer, error) {
	key, err := c.neededKey("schedule")
	if err != nil {
		return nil, err
	}
	r, err := s.readSchedule(c)
	if err != nil {
		return nil, err
	}
	r.ID = newRequestID()
	made, replayed, err := c.tenant().CreateReportSchedule(c.ctx(), c.author().Write(key), r)
	if err != nil {
		return nil, err
	}
	a, err := answerSchedule(made, nil)
	if err != nil {
		return nil, err
	}
	a.status, a.etag = http.StatusCreated, contentTag(a.body)
	a.setHeader("Location", "/v1/report-schedules/"+made.ID.String())
	return a.saidBefore(replayed), nil
}

func readReportSchedule(s *Server, c *requestContext) (*answer, error) {
	return answerSchedule(c.tenant().ReportSchedule(c.ctx(), c.id("reportScheduleId")))
}

// amendReportSchedule replaces the statement, if it is still the one that the
// caller read.
func amendReportSchedule(s *Server, c *requestContext) (*answer, error) {
	now, err := c.tenant().ReportSchedule(c.ctx(), c.id("reportScheduleId"))
	if err != nil {
		return nil, err
	}
	shown, err := answerSchedule(now, nil)
	if err != nil {
		return nil, err
	}
	if err := c.matchesTag(contentTag(shown.body)); err != nil {
		return nil, err
	}
	if now.EndedAt != nil {
		return nil, fault.Of(fault.Conflict, "report-schedule-ended", "The schedule has ended; make another one.")
	}
	r, err := s.readSchedule(c)
	if err != nil {
		return nil, err
	}
	r.ID, r.Revision = now.ID, now.Revision
	return tagged(answerSchedule(c.tenant().AmendReportSchedule(c.ctx(), r)))
}

// matchesTag is a fault unless If-Match holds an ETag.
func (c *requestContext) matchesTag(etag string) error {
	header := c.echo.Request().Header.Get("If-Match")
	if header == "" {
		return fault.Of(fault.PreconditionMissing, "if-match-missing",
			"Send the schedule's ETag in If-Match, so that no change is lost; a GET shows it.")
	}
	for _, tag := range strings.Split(header, ",") {
		if tag = strings.TrimSpace(tag); tag == "*" || plainTag(tag) == etag {
			return nil
		}
	}
	return fault.Of(fault.Stale, "report-schedule-changed",
		"The schedule has changed since it was read, or If-Match does not hold its strong ETag; read it again and decide.")
}

func endReportSchedule(s *Server, c *requestContext) (*answer, error) {
	return tagged(answerSchedule(c.tenant().EndReportSchedule(c.ctx(), c.id("reportScheduleId"))))
}

// tagged gives the answer to a change the ETag that a read would have.
func tagged(a *answer, err error) (*answer, error) {
	if err == nil {
		a.etag = contentTag(a.body)
	}
	return a, err
}

func answerSchedule(r postgres.ReportSchedule, err error) (*answer, error) {
	if err != nil {
		return nil, err
	}
	shown, err := scheduleOf(r)
	if err != nil {
		return nil, err
	}
	return ok(shown)
}

func scheduleOf(r postgres.ReportSchedule) (api.ReportSchedule, error) {
	out := api.ReportSchedule{
		Id: r.ID, Revision: int32(r.Revision), CreatedAt: r.CreatedAt, NextDueAt: r.NextDueAt, EndedAt: r.EndedAt,
	}
	return out, wire.Decode([]byte(r.Body), &out.Statement)
}

// readSchedule reads a schedule's statement, and finds when it is due first.
func (s *Server) readSchedule(c *requestContext) (postgres.ReportSchedule, error) {
	st, err := decode[api.ReportScheduleStatement](c)
	if err != nil {
		return postgres.ReportSchedule{}, err
	}
	var faults fault.List
	r := postgres.ReportSchedule{Body: string(c.raw), ReportTiming: postgres.ReportTiming{
		Rule: st.Rule, Zone: deref(st.TimeZone), Period: string(deref(st.Period)),
		EachMissed: deref(st.AfterDowntime) == "each", KeepDays: 90, Webhooks: []uuid.UUID{}, MediaType: jsonType,
	}}
	if st.KeepDays != nil {
		r.KeepDays = int(*st.KeepDays)
	}
	if deref(st.Format) == "csv" {
		r.MediaType = "text/csv"
	}
	if err := s.readTiming(c, &r, st, &faults); err != nil {
		return r, err
	}
	if err := s.readReport(c, &r, st, &faults); err != nil {
		return r, err
	}
	return r, faults.Err()
}

// readTiming reads when a report is made.
func (s *Server) readTiming(
	c *requestContext, r *postgres.ReportSchedule, st api.ReportScheduleStatement, faults *fault.List,
) (err error) {
	if r.Zone == "" {
		in, err := c.tenant().Institution(c.ctx())
		if err != nil {
			return err
		}
		r.Zone = in.TimeZone
	}
	zone, err := time.LoadLocation(r.Zone)
	if err != nil || r.Zone == "Local" {
		faults.Add("time-zone-unknown", "/timeZone",
			"This is no time zone of the IANA database; write one such as Europe/Vienna.")
		return nil
	}
	rule, err := calendar.Parse(st.Rule)
	if err != nil {
		return faults.Merge("/rule", err)
	}
	if r.Starts, err = time.Parse("2006-01-02T15:04", st.Starts); err != nil {
		faults.Add("date-unknown", "/starts", "There is no such date and time; write one such as 2026-04-01T07:00.")
		return nil
	}
	next, comes := (calendar.Schedule{Rule: rule, Start: r.Starts, Zone: zone}).Next(s.now())
	if !comes {
		faults.Add("rule-never-comes", "/rule",
			"There is no day that this rule gives; a month may lack the day, or the parts exclude each other.")
		return nil
	}
	r.NextDueAt = &next
	return nil
}

// readReport reads which report is made, and checks its filters against the report's own
// operation.
func (s *Server) readReport(
	c *requestContext, r *postgres.ReportSchedule, st api.ReportScheduleStatement, faults *fault.List,
) error {
	name, query, err := askedReport(st.Report)
	if err != nil {
		return err
	}
	r.Report, r.Query = name, query.Encode()
	_, err = s.scheduled(c.ctx(), c.principal.Institution, name, query, r.MediaType)
	if err != nil {
		return faults.Merge("/report/"+name, err)
	}
	if r.Period != "" && !scheduledReports[name].period {
		faults.Add("no-period", "/period", "This report has no period: it is of the record as it stands. Leave period out.")
	}
	if st.Webhooks == nil {
		return nil
	}
	r.Webhooks = each(*st.Webhooks, func(w api.RecordRef) uuid.UUID { return w.Id })
	known, err := c.tenant().WebhooksKnown(c.ctx(), r.Webhooks)
	if err == nil && known != len(r.Webhooks) {
		faults.Add("webhook-unknown", "/webhooks", "One of these is no webhook of this institution, or stands twice.")
	}
	return err
}

// askedReport is the one member of a choice: the report's name, and its filters as a
// query.
func askedReport(r api.ScheduledReport) (name string, query url.Values, err error) {
	encoded, err := wire.Encode(r)
	if err != nil {
		return "", nil, err
	}
	var asked map[string]map[string]any
	if err := jsonv2.Unmarshal(encoded, &asked); err != nil {
		return "", nil, fault.New("report-unreadable", "/report", "What the report is asked for cannot be read.")
	}
	query = url.Values{}
	for member, narrowed := range asked {
		name = member
		for parameter, value := range narrowed {
			query.Set(parameter, parameterText(value))
		}
	}
	return name, query, nil
}

// parameterText writes a value as a query parameter: a reference as its id, and a list
// with commas between.
func parameterText(value any) string {
	if reference, is := value.(map[string]any); is {
		value = reference["id"]
	}
	list, isList := value.([]any)
	if !isList {
		text, _ := value.(string)
		return text
	}
	texts := make([]string, len(list))
	for i, v := range list {
		texts[i] = parameterText(v)
	}
	return strings.Join(texts, ",")
}
