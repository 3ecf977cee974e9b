package dossier

import (
	"fmt"

	"meniscus/internal/publish"
)

// distinctTexts is a list that holds each text once, up to a limit; it counts the
// others.
type distinctTexts struct {
	most int
	list []string
	more int
	seen map[string]bool
}

func (d *distinctTexts) add(texts ...string) {
	if d.seen == nil {
		d.seen = map[string]bool{}
	}
	for _, text := range texts {
		switch {
		case d.seen[text]:
			continue
		case len(d.list) < d.most:
			d.list = append(d.list, text)
		default:
			d.more++
		}
		d.seen[text] = true
	}
}

// distinctLinks holds each link once, up to a limit.
type distinctLinks struct {
	list []publish.Link
	seen map[publish.Link]bool
	cut  bool
}

func (x *distinctLinks) add(links ...publish.Link) {
	for _, l := range links {
		switch {
		case x.cut:
			return
		case x.seen[l]:
			continue
		case len(x.list) == mostContents:
			x.cut = true
			x.list = append(x.list, publish.Link{Label: fmt.Sprintf("and more than these %d", mostContents)})
			return
		case x.seen == nil:
			x.seen = map[publish.Link]bool{}
		}
		x.seen[l] = true
		x.list = append(x.list, l)
	}
}
