package record_test

import (
	"slices"
	"testing"

	"github.com/google/uuid"

	"meniscus/internal/edtf"
	"meniscus/internal/record"
)

func on(text string) record.Date {
	if text == "" {
		return record.Date{Answer: record.AnswerUnknown}
	}
	return record.Give(edtf.MustParse(text))
}

var (
	aSupply, aBatch, aBottle = uuid.UUID{1}, uuid.UUID{2}, uuid.UUID{3}
	aSkull, aJaw, aCast      = uuid.UUID{4}, uuid.UUID{5}, uuid.UUID{6}
)

// bench is what is on record: a supply received in March 2024 that expires in 2025,
// a batch made of it, a bottle filled later, and specimens that left or stayed.
func bench(twins ...record.Ref) record.Known {
	return record.Known{
		Today:    edtf.Day{Year: 2026, Month: 3, Day: 2},
		Supplies: map[record.Ref]*record.Supply{aSupply: {Received: on("2024-03"), Expires: on("2025")}},
		Batches: map[record.Ref]*record.Batch{
			aBatch:  {Type: "solution", Made: on("2024-04-10"), Expires: on("2025-04-10")},
			aBottle: {Type: "bottle", Made: on("2024-05-02")},
		},
		Specimens: map[record.Ref]*record.Specimen{aSkull: {}, aJaw: {PassedOn: &record.PassedOn{To: "Harbour Museum", Date: on("2024-06-01")}},
			aCast: {PassedOn: &record.PassedOn{To: "Harbour Museum", Date: on("")}}},
		Twins: twins,
	}
}

func TestOdd(t *testing.T) {
	t.Parallel()
	treatment := func(specimen record.Ref, date string, uses ...record.Used) *record.Treatment {
		tr := &record.Treatment{Specimen: specimen, Action: "coating", Date: on(date)}
		for _, u := range uses {
			tr.Uses.Value = append(tr.Uses.Value, record.Use{Used: u})
		}
		return tr
	}
	made := func(date string, of record.Used) *record.Batch {
		return &record.Batch{Made: on(date), Inputs: record.Give([]record.Input{{Used: of}})}
	}
	supply, batch, bottle := record.Used{Supply: aSupply}, record.Used{Batch: aBatch}, record.Used{Batch: aBottle}
	twin := uuid.UUID{9}
	for name, row := range map[string]struct {
		said  record.Value
		twins []record.Ref
		want  []string
	}{
		"nothing odd":                        {treatment(aSkull, "2024-05-02", supply, batch, bottle), nil, nil},
		"a day that may be the one":          {treatment(aSkull, "2024", bottle), nil, nil},
		"undated":                            {treatment(aSkull, "", supply, batch, bottle), nil, nil},
		"about the day before":               {treatment(aSkull, "2024-05-01~", bottle), nil, nil},
		"from a bottle of the day after":     {treatment(aSkull, "2024-05-01", bottle), nil, []string{"warn bottle-not-yet-filled"}},
		"from a batch of later":              {treatment(aSkull, "2024-04-09", batch), nil, []string{"warn batch-not-yet-made"}},
		"the same batch twice, told once":    {treatment(aSkull, "2024-04-09", batch, batch), nil, []string{"warn batch-not-yet-made"}},
		"with a supply of later":             {treatment(aSkull, "2024-02", supply), nil, []string{"warn supply-not-yet-received"}},
		"with a supply that had expired":     {treatment(aSkull, "2026-01", supply), nil, []string{"warn supply-expired"}},
		"in the year in which it expires":    {treatment(aSkull, "2025", supply), nil, nil},
		"with a batch that had expired":      {treatment(aSkull, "2025-05", batch), nil, []string{"warn batch-expired"}},
		"with a bottle more than a year old": {treatment(aSkull, "2025-06", bottle), nil, []string{"info batch-old"}},
		"with a bottle of a year":            {treatment(aSkull, "2025-05", bottle), nil, nil},
		"today":                              {treatment(aSkull, "2026-03-02"), nil, nil},
		"tomorrow, which is today elsewhere": {treatment(aSkull, "2026-03-03"), nil, nil},
		"the day after tomorrow":             {treatment(aSkull, "2026-03-04"), nil, []string{"warn date-in-future"}},
		"this month":                         {treatment(aSkull, "2026-03"), nil, nil},
		"next year":                          {treatment(aSkull, "2027"), nil, []string{"warn date-in-future"}},
		"a plan for next year":               {&record.Plan{Treatment: *treatment(aSkull, "2027", supply)}, nil, []string{"warn supply-expired"}},
		"said twice":                         {treatment(aSkull, "1998"), []record.Ref{twin}, []string{"warn treatment-said-twice"}},
		"before it went":                     {treatment(aJaw, "2024-05"), nil, nil},
		"when it went":                       {treatment(aJaw, "2024-06-01"), nil, nil},
		"after it went":                      {treatment(aJaw, "2024-07"), nil, []string{"warn specimen-passed-on"}},
		"undated, of one that went":          {treatment(aJaw, "", bottle), nil, []string{"info specimen-passed-on"}},
		"of one that went some day":          {treatment(aCast, "1998"), nil, []string{"info specimen-passed-on"}},
		"joined to one that went": {&record.Treatment{Specimen: aSkull, JoinedTo: aJaw, Action: record.ActionJoining, Date: on("2025")}, nil,
			[]string{"warn specimen-passed-on"}},
		"warnings first": {treatment(aCast, "2027", supply, bottle), nil,
			[]string{"warn supply-expired", "warn date-in-future", "info batch-old", "info specimen-passed-on"}},
		"a batch of a later one":        {made("2024-04-09", batch), nil, []string{"warn batch-not-yet-made"}},
		"a batch of the future":         {made("2028", record.Used{Material: "acetone"}), nil, []string{"warn date-in-future"}},
		"a batch of an expired supply":  {made("2026", supply), nil, []string{"warn supply-expired"}},
		"topped up before it was made":  {&record.AmountChange{Batch: aBatch, Date: on("2024-04-01"), With: &record.Used{Supply: aSupply}}, nil, []string{"warn batch-not-yet-made"}},
		"topped up from an old supply":  {&record.AmountChange{Batch: aBottle, Date: on("2026-02"), With: &record.Used{Supply: aSupply}}, nil, []string{"warn supply-expired"}},
		"a supply of the future":        {&record.Supply{Received: on("2029")}, nil, []string{"warn date-in-future"}},
		"a supply that came too late":   {&record.Supply{Received: on("2024"), Expires: on("2023-12")}, nil, []string{"warn supply-expired"}},
		"a supply without dates":        {&record.Supply{}, nil, nil},
		"a specimen":                    {&record.Specimen{}, nil, nil},
		"what nobody knows of the jars": {treatment(aSkull, "1900", record.Used{Batch: uuid.UUID{8}}, record.Used{Words: "old jar"}), nil, nil},
	} {
		known := bench(row.twins...)
		var got []string
		for _, f := range record.Odd(row.said, known) {
			got = append(got, string(f.Severity)+" "+f.Rule)
			if f.Sentence == "" || f.Remedy == "" {
				t.Errorf("%s: %s says nothing, or nothing to do", name, f.Rule)
			}
		}
		if !slices.Equal(got, row.want) {
			t.Errorf("%s: got %v, want %v", name, got, row.want)
		}
	}
}

// A finding names the record that it is about, and the days.
func TestOddNamesWhatItIsAbout(t *testing.T) {
	t.Parallel()
	said := &record.Treatment{Specimen: aSkull, Date: on("2024-05-01"), Uses: record.Give([]record.Use{{Used: record.Used{Batch: aBottle}}})}
	got := record.Odd(said, bench())
	if len(got) != 1 || !slices.Equal(got[0].Records, []record.Ref{aBottle}) || got[0].Sentence != "A bottle was used (1 May 2024) before it was filled (2 May 2024)." {
		t.Errorf("got %v, want the bottle and both days", got)
	}
	supplies, batches, specimens := record.NamedBy(said)
	if len(supplies) != 0 || !slices.Equal(batches, []record.Ref{aBottle}) || !slices.Equal(specimens, []record.Ref{aSkull}) {
		t.Errorf("got %v, %v and %v named, want the bottle and the skull", supplies, batches, specimens)
	}
}
