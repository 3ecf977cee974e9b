package webhook

import (
	"strconv"
	"strings"
	"time"
)

// delays are how long to wait after the first, second, … failed attempt; the last
// one is used for all later attempts. They are those that Standard Webhooks
// suggests.
var delays = []time.Duration{
	5 * time.Second, 5 * time.Minute, 30 * time.Minute, 2 * time.Hour, 5 * time.Hour,
	10 * time.Hour, 14 * time.Hour, 20 * time.Hour, 24 * time.Hour,
}

const (
	// jitter is the part of a delay by which it is varied either way, so that
	// receivers that failed at the same time are not retried at the same time.
	jitter = 0.2
	// GiveUpAfter is how long an endpoint may fail without one success before it
	// is switched off. A catalogue may be down for a week.
	GiveUpAfter = 14 * 24 * time.Hour
	// longestWait bounds what a receiver may ask for in Retry-After.
	longestWait = 24 * time.Hour
)

// Delay is the wait after a number of attempts that failed in a row (1 is the
// first); chance is a random number in [0, 1).
func Delay(failed int, chance float64) time.Duration {
	d := delays[min(max(failed, 1), len(delays))-1]
	return time.Duration(float64(d) * (1 + jitter*(2*chance-1)))
}

// httpDate is the one form in which HTTP dates are sent (RFC 9110, section 5.6.7).
const httpDate = "Mon, 02 Jan 2006 15:04:05 GMT"

// RetryAfter reads the header (RFC 9110, section 10.2.3): seconds or a date. A
// value that cannot be read, or lies in the past, gives no wait.
func RetryAfter(header string, now time.Time) time.Duration {
	var wait time.Duration
	if seconds, err := strconv.ParseInt(strings.TrimSpace(header), 10, 32); err == nil {
		wait = time.Duration(seconds) * time.Second
	} else if at, err := time.Parse(httpDate, strings.TrimSpace(header)); err == nil {
		wait = at.Sub(now)
	}
	return min(max(wait, 0), longestWait)
}
