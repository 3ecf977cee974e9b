package deliver

import (
	"context"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"sync"
	"time"

	"meniscus/api"
	"meniscus/internal/postgres"
	"meniscus/internal/webhook"
)

// reported is the data of a notice; the contract calls it ReportReady.
type reported struct {
	Schedule  api.RecordRef `json:"schedule"`
	Run       api.RecordRef `json:"run"`
	DueAt     string        `json:"dueAt"`
	From      string        `json:"from,omitempty"`
	Until     string        `json:"until,omitempty"`
	Outcome   string        `json:"outcome"`
	Sentence  string        `json:"sentence,omitempty"`
	MediaType string        `json:"mediaType"`
	Size      *int64        `json:"size,omitempty"`
	SHA256    string        `json:"sha256,omitempty"`
	KeptUntil string        `json:"keptUntil,omitempty"`
	Link      string        `json:"link,omitempty"`
}

// tell sends the due notices of runs that have ended, and gives how many there were.
func (w *Worker) tell(ctx context.Context) (int, error) {
	notices, err := w.store.LeaseNotices(ctx, w.now(), w.now().Add(leaseFor), atOnce)
	if err != nil {
		return 0, err
	}
	failed := make([]error, len(notices))
	var turns sync.WaitGroup
	for i, n := range notices {
		turns.Go(func() {
			failed[i] = w.guarded("notice", n.Run, func() error { return w.tellOne(context.WithoutCancel(ctx), n) })
		})
	}
	turns.Wait()
	return len(notices), errors.Join(failed...)
}

func (w *Worker) tellOne(ctx context.Context, n postgres.Notice) error {
	secrets, err := w.secrets(ctx, postgres.Lease{Institution: n.Institution, Webhook: n.Webhook})
	if err != nil {
		return err
	}
	body, err := w.notice(n)
	if err != nil {
		return err
	}
	got := reply{sentence: unsigned}
	if headers, err := webhook.Headers(n.Run.String(), w.now(), body, secrets); err == nil {
		got = w.sender.send(ctx, n.URL, headers, body)
	}
	now := w.now()
	if got.accepted() {
		return w.store.Told(ctx, n, got.status, got.sentence, now)
	}
	var again *time.Time
	gone := got.status == 410
	if !gone && (n.FailingSince == nil || now.Sub(*n.FailingSince) < webhook.GiveUpAfter) {
		at := now.Add(max(webhook.Delay(n.Attempts+1, w.chance()), webhook.RetryAfter(got.retryAfter, now)))
		again = &at
	}
	var status *int
	if got.status != 0 {
		status = &got.status
	}
	return w.store.NotTold(ctx, n, status, got.sentence, now, again, gone)
}

// notice renders the event. It has no sequence number, because a report is not an
// entry. Its id is the run's, so that every attempt has the same id.
func (w *Worker) notice(n postgres.Notice) ([]byte, error) {
	runs := fmt.Sprintf("%s/v1/report-schedules/%s/runs", w.publicURL, n.Schedule)
	said := reported{Schedule: api.Ref(n.Schedule), Run: api.Ref(n.Run), DueAt: n.DueAt.UTC().Format(time.RFC3339),
		From: dayOf(n.From), Until: dayOf(n.Until), MediaType: n.MediaType}
	ended := n.FailedAt
	if n.MadeAt != nil {
		ended = n.MadeAt
		said.Outcome, said.Size, said.SHA256 = "ready", n.Size, hex.EncodeToString(n.SHA256)
		said.KeptUntil, said.Link = n.KeptUntil.UTC().Format(time.RFC3339), runs+"/"+n.Run.String()+"/file"
	} else {
		said.Outcome, said.Sentence = "failed", n.Sentence
	}
	data, err := json.Marshal(said)
	if err != nil {
		return nil, fmt.Errorf("rendering a notice: %w", err)
	}
	at := ended.UTC().Format(time.RFC3339Nano)
	return render(event{
		SpecVersion: "1.0", ID: n.Run.String(), Source: w.publicURL + "/v1",
		Type:    "example.meniscus.report." + said.Outcome + ".v1",
		Subject: n.Schedule.String(), Time: at, Timestamp: at, DataRef: runs,
		DataType: "application/json", DataSchema: w.publicURL + "/openapi.json#/components/schemas/ReportReady", Data: data,
	})
}

func dayOf(t *time.Time) string {
	if t == nil {
		return ""
	}
	return t.Format(time.DateOnly)
}
