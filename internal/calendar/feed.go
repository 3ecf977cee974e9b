package calendar

import (
	"bufio"
	"io"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// Feed writes a calendar of whole days (RFC 5545). A failure of the destination shows in Close.
type Feed struct {
	w     *bufio.Writer
	stamp string
	begun bool // has an event
}

// Event is something on a day.
type Event struct {
	UID         string // of no other event, and always of this one
	Day         time.Time
	Summary     string
	Description string // "" for none
	URL         string
	Category    string
}

// NewFeed begins a calendar with a name, as it stands at a moment.
func NewFeed(w io.Writer, name string, now time.Time) *Feed {
	f := &Feed{w: bufio.NewWriter(w), stamp: now.UTC().Format("20060102T150405Z")}
	f.line("BEGIN", "VCALENDAR")
	f.line("VERSION", "2.0")
	f.line("PRODID", "-//Meniscus//What is due//EN")
	f.line("NAME", escaped(name)) // RFC 7986, section 5.1
	f.line("REFRESH-INTERVAL;VALUE=DURATION", "PT6H")
	return f
}

// Event adds an event.
func (f *Feed) Event(e Event) {
	f.begun = true
	f.line("BEGIN", "VEVENT")
	f.line("UID", escaped(e.UID))
	f.line("DTSTAMP", f.stamp)
	f.line("DTSTART;VALUE=DATE", e.Day.Format("20060102"))
	f.line("SUMMARY", escaped(e.Summary))
	if e.Description != "" {
		f.line("DESCRIPTION", escaped(e.Description))
	}
	f.line("CATEGORIES", escaped(e.Category))
	f.line("URL", e.URL)
	f.line("TRANSP", "TRANSPARENT")
	f.line("END", "VEVENT")
}

// Close ends the calendar. One without an event gets the zone UTC, because a calendar holds at
// least one component (RFC 5545, section 3.6).
func (f *Feed) Close() error {
	if !f.begun {
		for _, l := range [][2]string{{"BEGIN", "VTIMEZONE"}, {"TZID", "UTC"}, {"BEGIN", "STANDARD"},
			{"DTSTART", "19700101T000000"}, {"TZOFFSETFROM", "+0000"}, {"TZOFFSETTO", "+0000"},
			{"END", "STANDARD"}, {"END", "VTIMEZONE"}} {
			f.line(l[0], l[1])
		}
	}
	f.line("END", "VCALENDAR")
	return f.w.Flush()
}

// mostOctets is how long a line is before it is folded (RFC 5545, section 3.1).
const mostOctets = 75

// line writes a content line, folded between characters.
func (f *Feed) line(name, value string) {
	rest, room := name+":"+value, mostOctets
	for len(rest) > room {
		end := room
		for !utf8.RuneStart(rest[end]) {
			end--
		}
		_, _ = f.w.WriteString(rest[:end] + "\r\n ") // the writer keeps the first error for Flush
		rest, room = rest[end:], mostOctets-1
	}
	_, _ = f.w.WriteString(rest + "\r\n")
}

var escapes = strings.NewReplacer(`\`, `\\`, ";", `\;`, ",", `\,`, "\r\n", `\n`, "\n", `\n`, "\r", `\n`)

// escaped is a text as a value (RFC 5545, section 3.3.11), without control characters.
func escaped(text string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) && r != '\t' {
			return -1
		}
		return r
	}, escapes.Replace(strings.ToValidUTF8(text, "�")))
}
