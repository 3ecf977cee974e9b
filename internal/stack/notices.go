package stack

// Notices is what every answer about the specimen says first: its hazards, that
// the record was merged, that the specimen left, and what cannot be read.
func (s *Specimen) Notices() []string {
	out := s.ReadHazards().Said()
	if s.Withheld > 0 {
		out = append(out, sentence("%s withheld here, because the specimen or one beside it is restricted; "+
			"ask whoever may see restricted records before any step",
			plural(s.Withheld, "one record about it is", "records about it are")))
	}
	if s.AskedAs != "" {
		out = append(out, "The record "+s.AskedAs+" was merged; the record "+s.ID+
			" stands for the specimen, and this is what is on record of it.")
	}
	if s.MoreTreatments > 0 {
		out = append(out, sentence("%s on record that were recorded earlier than those told of here; "+
			"GET /v1/treatments lists every treatment, page by page",
			plural(s.MoreTreatments, "one more treatment is", "more treatments are")))
	}
	if len(s.ByCollection) > 0 {
		out = append(out, sentence("By its collection's default, and not by its own record, the body is taken so: %s",
			listed(each(s.ByCollection, func(t Trait) string { return string(t) + " " + s.Traits[t].String() }), 20)))
	}
	if p := s.PassedOn; p != nil {
		out = append(out, sentence("The specimen left: it was passed on to %s, date %s; "+
			"what happened to it since is not on record here", p.To, p.Date))
	}
	for _, u := range s.Unread[:min(len(s.Unread), maxNotices)] {
		out = append(out, sentence("The words of %s %s cannot be read; what it says is not taken into account", u.Kind, u.ID))
	}
	if more := len(s.Unread) - maxNotices; more > 0 {
		out = append(out, sentence("The words of %s about it cannot be read either",
			plural(more, "one more record", "more records")))
	}
	return out
}

// Specimen is the specimen that the stack is of.
func (s *Stack) Specimen() *Specimen { return &s.specimen }

// WithheldTreatments is of how many treatments in force it is not told what they are.
func (s *Stack) WithheldTreatments() int {
	n := 0
	for _, t := range s.treatments {
		if t.Withheld {
			n++
		}
	}
	return n
}
