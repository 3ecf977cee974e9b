package deliver

import (
	"bytes"
	"encoding/json"
	"fmt"
	"time"

	"meniscus/internal/postgres"
)

// contentType has no charset, because receivers refuse one.
const contentType = "application/cloudevents+json"

// largestEvent is the size up to which CloudEvents promises that an event passes; a
// larger one is sent without its statement.
const largestEvent = 64 << 10

// event is CloudEvents 1.0 in its structured JSON form. Its `timestamp` is the
// member that Standard Webhooks asks for, equal to `time`; `sequence` orders the
// events of one institution as texts, too.
type event struct {
	SpecVersion string          `json:"specversion"`
	ID          string          `json:"id"`
	Source      string          `json:"source"`
	Type        string          `json:"type"`
	Subject     string          `json:"subject"`
	Time        string          `json:"time"`
	Timestamp   string          `json:"timestamp"`
	Sequence    string          `json:"sequence,omitempty"`
	DataRef     string          `json:"dataref"`
	DataType    string          `json:"datacontenttype"`
	DataSchema  string          `json:"dataschema"`
	Data        json.RawMessage `json:"data"`
}

// eventType names what happened; a change that breaks receivers gets a new version.
func eventType(row postgres.Row) string {
	return fmt.Sprintf("example.meniscus.%s.%s.v1", row.Kind, row.Act)
}

// body renders an entry as the event that is sent. Its id is the entry's, so that every
// attempt has the same id.
func (w *Worker) body(l postgres.Lease, d postgres.Deliverable) ([]byte, error) {
	if l.Content == "whole" {
		whole, err := w.render(d)
		if err != nil || len(whole) <= largestEvent {
			return whole, err
		}
	}
	d.Body = nil
	return w.render(d)
}

func (w *Worker) render(d postgres.Deliverable) ([]byte, error) {
	at := d.RecordedAt.UTC().Format(time.RFC3339Nano)
	return render(event{
		SpecVersion: "1.0",
		ID:          d.EntryID.String(),
		Source:      w.publicURL + "/v1",
		Type:        eventType(d.Row),
		Subject:     d.Subject.String(),
		Time:        at,
		Timestamp:   at,
		Sequence:    fmt.Sprintf("%019d", *d.Sequence),
		DataRef:     fmt.Sprintf("%s/v1/records/%s/revisions/%d", w.publicURL, d.Record, d.Revision),
		DataType:    "application/json",
		DataSchema:  w.publicURL + "/openapi.json#/components/schemas/Change",
		Data:        w.change(d.Row),
	})
}

func render(of event) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(of); err != nil {
		return nil, fmt.Errorf("rendering an event: %w", err)
	}
	return bytes.TrimSuffix(b.Bytes(), []byte("\n")), nil
}
