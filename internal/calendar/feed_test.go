package calendar_test

import (
	"strings"
	"testing"
	"time"

	"meniscus/internal/calendar"
)

func feed(t *testing.T, events ...calendar.Event) string {
	t.Helper()
	var out strings.Builder
	f := calendar.NewFeed(&out, "What is due", time.Date(2026, 12, 1, 8, 30, 0, 0, time.FixedZone("", 3600)))
	for _, e := range events {
		f.Event(e)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

// TestFeedEscapes: the text of RFC 5545, section 3.3.11: "Project XYZ Final Review", a line break,
// "Conference Room - 3B", a line break, "Come Prepared."; and each character that has a meaning.
func TestFeedEscapes(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]string{
		"Project XYZ Final Review\nConference Room - 3B\nCome Prepared.": `Project XYZ Final Review\nConference Room - 3B\nCome Prepared.`,
		`back\slash; semicolon, comma: colon "quote"`:                    `back\\slash\; semicolon\, comma: colon "quote"`,
		"a\r\nEND:VCALENDAR\x00\x1b[2J":                                  `a\nEND:VCALENDAR[2J`,
	} {
		got := strings.ReplaceAll(feed(t, calendar.Event{UID: "1", Summary: text}), "\r\n ", "")
		if !strings.Contains(got, "\r\nSUMMARY:"+want+"\r\n") {
			t.Errorf("%q: want %q in\n%s", text, want, got)
		}
	}
}

// TestFeedFolds: a line has at most 75 octets, is broken between characters, and is the same when
// each break with its space is taken out (RFC 5545, section 3.1).
func TestFeedFolds(t *testing.T) {
	t.Parallel()
	for _, letter := range []string{"a", "ü", "深", "🦴"} {
		text := strings.Repeat(letter, 200)
		got := feed(t, calendar.Event{UID: "1", Summary: text})
		for line := range strings.SplitSeq(got, "\r\n") {
			if len(line) > 75 || strings.ToValidUTF8(line, "") != line {
				t.Errorf("the line %q has %d octets or half a character", line, len(line))
			}
		}
		if !strings.Contains(strings.ReplaceAll(got, "\r\n ", ""), "SUMMARY:"+text+"\r\n") {
			t.Errorf("%s: unfolded it is another text:\n%s", letter, got)
		}
	}
}

// TestFeedWhole: a calendar with what RFC 5545, sections 3.6 and 3.6.1, requires, also without an event.
func TestFeedWhole(t *testing.T) {
	t.Parallel()
	head := "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//Meniscus//What is due//EN\r\nNAME:What is due\r\n" +
		"REFRESH-INTERVAL;VALUE=DURATION:PT6H\r\n"
	day := time.Date(2027, 1, 4, 0, 0, 0, 0, time.UTC)
	got := feed(t, calendar.Event{UID: "7-next-check", Day: day, Summary: "Look", URL: "https://meniscus.example/7",
		Category: "next-check"})
	want := head + "BEGIN:VEVENT\r\nUID:7-next-check\r\nDTSTAMP:20261201T073000Z\r\nDTSTART;VALUE=DATE:20270104\r\n" +
		"SUMMARY:Look\r\nCATEGORIES:next-check\r\nURL:https://meniscus.example/7\r\nTRANSP:TRANSPARENT\r\nEND:VEVENT\r\n" +
		"END:VCALENDAR\r\n"
	if got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	empty := feed(t)
	if !strings.HasPrefix(empty, head+"BEGIN:VTIMEZONE\r\nTZID:UTC\r\n") ||
		!strings.HasSuffix(empty, "END:VTIMEZONE\r\nEND:VCALENDAR\r\n") {
		t.Errorf("an empty calendar is\n%s", empty)
	}
}
