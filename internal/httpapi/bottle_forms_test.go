package httpapi_test

import (
	"html"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
)

// desk is a person at a bottle's page.
type desk struct {
	*signIn
	*browser
	path string
}

// newDesk is a person with groups at the page of a bottle of the demo's museum, of 50 mL.
func newDesk(t *testing.T, groups ...string) *desk {
	t.Helper()
	s := newSignIn(t)
	s.loadDemo()
	filled := s.do(http.MethodPost, "/v1/batches/01900000-0000-7000-8000-000000000015/bottles", object{
		"bottles": array{object{"code": "B-9/a", "amount": object{"value": 50, "unit": "mL"}}}},
		header{"Idempotency-Key", uuid.NewString()}).want(201)
	path := "/v1/batches/" + filled.at("items", 0, "id").(string)
	return &desk{s, s.signedIn(path, "u-17", groups...), path}
}

var onceIn = regexp.MustCompile(`name="once" value="([^"]+)"`)

// filled is a form of the page, as the page has it, with what is typed into it.
func (d *desk) filled(form string, typed ...string) url.Values {
	d.browser.t.Helper()
	page := d.ask(http.MethodGet, d.path, nil).want(200)
	at := strings.Index(string(page.body), `name="form" value="`+form+`"`)
	if at < 0 {
		d.browser.t.Fatalf("no form %s: %s", form, page.body)
	}
	values := url.Values{"token": {d.browser.token(d.path)}, "form": {form}, "date": {"2026-02-03"}, "unit": {"mL"},
		"once": {string(onceIn.FindSubmatch(page.body[at:])[1])}}
	for i := 0; i < len(typed); i += 2 {
		values.Set(typed[i], typed[i+1])
	}
	return values
}

func (d *desk) send(values url.Values) reply {
	d.browser.t.Helper()
	return d.ask(http.MethodPost, d.path, values)
}

// latest is the record of a list that was made last.
func (d *desk) latest(path string) object {
	d.browser.t.Helper()
	items := d.do(http.MethodGet, path, nil).want(200).at("items").(array)
	if len(items) == 0 {
		d.browser.t.Fatalf("%s is empty", path)
	}
	return slices.MaxFunc(items, func(a, b any) int {
		return strings.Compare(a.(object)["id"].(string), b.(object)["id"].(string))
	}).(object)
}

func (d *desk) treatments() int {
	d.browser.t.Helper()
	return len(d.do(http.MethodGet, "/v1/treatments?limit=500", nil).want(200).at("items").(array))
}

// A use at the bench is the treatment that a program would have recorded: of the specimen that carries the number, by
// who signed in; the page shows it at once, and the bottle has less in it.
func TestAUseIsRecordedAtTheBottle(t *testing.T) {
	t.Parallel()
	d := newDesk(t, "bench", "store")
	before := d.treatments()
	form := d.filled("use", "specimen", "LV.1987/0042", "action", "consolidation", "role", "consolidant", "area", "skull/left-orbit",
		"amount", "12,5")
	got := d.send(form).want(200)
	for _, text := range []string{"The use is recorded", "Consolidation", "LV.1987/0042", "37.5 mL"} {
		if !strings.Contains(string(got.body), text) {
			t.Errorf("%q is not on the page: %s", text, got.body)
		}
	}
	made := d.latest("/v1/treatments?batch=" + d.path[len("/v1/batches/"):])
	person := idOf(made["recordedBy"])
	said := made["statement"].(object)
	want := object{"specimen": object{"id": "01900000-0000-7000-8000-000000000022"}, "action": "consolidation",
		"areas": object{"paths": array{"skull/left-orbit"}}, "dates": object{"edtf": "2026-02-03"},
		"materials": array{object{"used": object{"batch": object{"id": d.path[len("/v1/batches/"):]}}, "role": "consolidant",
			"amount": object{"quantity": object{"value": 12.5, "unit": "mL"}}}},
		"people": array{object{"person": object{"id": person}, "part": "carried-out"}}}
	if string(encoded(said)) != string(encoded(want)) {
		t.Errorf("got %s, want %s", encoded(said), encoded(want))
	}
	if again := d.send(form).want(200); !strings.Contains(string(again.body), "is recorded") || d.treatments() != before+1 {
		t.Errorf("sent again, there are %d more: %s", d.treatments()-before, again.body)
	}
	form.Set("amount", "13")
	if other := d.send(form).want(422); !strings.Contains(string(other.body), "Nothing was recorded") || d.treatments() != before+1 {
		t.Errorf("another use in the same form: %s", other.body)
	}
	d.send(d.filled("use", "specimen", "https://catalogue.example/x/v1/specimens/01900000-0000-7000-8000-000000000022",
		"action", "joining")).want(200)
	d.send(d.filled("use", "specimen", "01900000-0000-7000-8000-000000000022", "action", "coating", "date", "")).want(200)
	if said := d.latest("/v1/treatments?batch=" + d.path[len("/v1/batches/"):])["statement"].(object); string(encoded(said["areas"])) !=
		`{"answer":"unknown"}` || string(encoded(said["dates"])) != `{"answer":"unknown"}` {
		t.Errorf("got %s, want what was left empty as not known", encoded(said))
	}
}

// Without a specimen, with a solvent that was added, and with what is left, the amount changes.
func TestAmountsAreRecordedAtTheBottle(t *testing.T) {
	t.Parallel()
	d := newDesk(t, "store")
	changes := "/v1/batches/" + d.path[len("/v1/batches/"):] + "/amount-changes"
	for _, x := range []struct {
		form      url.Values
		want, now string
	}{
		{d.filled("use", "amount", "010"), `{"amount":{"quantity":{"unit":"mL","value":10}},"kind":"used"}`, "Left: 40 mL"},
		{d.filled("solvent", "with", "acetone", "amount", "5.5"),
			`{"amount":{"quantity":{"unit":"mL","value":5.5}},"kind":"topped-up","with":{"material":{"id":"acetone"}}}`, "45.5 mL"},
		{d.filled("solvent", "words", "the blue can", "amount", "1"),
			`{"amount":{"quantity":{"unit":"mL","value":1}},"kind":"topped-up",` +
				`"with":{"words":{"certainty":"unknown","verbatim":"the blue can"}}}`, ""},
		{d.filled("measured", "amount", "30"),
			`{"amount":{"quantity":{"unit":"mL","value":30}},"kind":"corrected-by-weighing"}`, "Left: 30 mL"},
		{d.filled("use", "date", "2026-02-04"), `{"amount":{"answer":"unknown"},"kind":"used"}`, "At most 30 mL is left"},
		{d.filled("use", "amount", "0"), `{"amount":{"quantity":{"unit":"mL","value":0}},"kind":"used"}`, ""},
	} {
		page := d.send(x.form).want(200)
		if !strings.Contains(string(page.body), x.now) {
			t.Errorf("%s: %q is not on the page: %s", x.form.Get("form"), x.now, page.body)
		}
		said := d.latest(changes)["statement"].(object)
		if idOf(said["by"]) == "" || string(encoded(said["date"])) != `{"edtf":"`+x.form.Get("date")+`"}` {
			t.Errorf("got %s", encoded(said))
		}
		delete(said, "by")
		delete(said, "date")
		delete(said, "batch")
		if string(encoded(said)) != x.want {
			t.Errorf("got %s, want %s", encoded(said), x.want)
		}
	}
}

// What is wrong comes back beside its field, with all that was typed, and nothing is recorded.
func TestFaultsComeBackOnTheBottlesPage(t *testing.T) {
	t.Parallel()
	d := newDesk(t, "bench", "store")
	before := d.treatments()
	long := strings.Repeat("ä", 5000)
	for _, x := range []struct {
		form, field, says string
		status            int
		typed             []string
	}{
		{"use", "amount", "Write the amount as a number alone", 422, []string{"amount", "two spoons", "area", "skull"}},
		{"use", "amount", "comma before three digits", 422, []string{"amount", "1,000"}},
		{"use", "amount", "Write the amount", 422, []string{"amount", "-5"}},
		{"use", "amount", "Write the amount", 422, []string{"amount", "1e9"}},
		{"use", "amount", "Write the amount", 422, []string{"amount", "NaN"}},
		{"use", "date", "", 422, []string{"date", "the other day", "amount", "3"}},
		{"use", "action", "Choose what was done", 422, []string{"specimen", "LV.1987/0042", "area", `<script>alert(1)</script>`}},
		{"use", "action", "", 422, []string{"specimen", "LV.1987/0042", "action", "painting"}},
		{"use", "role", "", 422, []string{"specimen", "LV.1987/0042", "action", "coating", "role", "x"}},
		{"use", "specimen", "", 422, []string{"specimen", "01900000-0000-7000-8000-000000009999", "action", "coating"}},
		{"use", "area", "", 422, []string{"specimen", "LV.1987/0042", "action", "coating", "area", long}},
		{"use", "area", "", 422, []string{"specimen", "LV.1987/0042", "action", "coating", "area", "a\nb"}},
		{"use", "which", "these have one like it", 409, []string{"specimen", "LV.1987/42", "action", "coating", "amount", "3"}},
		{"use", "which", "choose to register it", 409, []string{"specimen", "ZZ.1/1 \u202eevil", "action", "coating"}},
		{"use", "which", "these have one like it", 409, []string{"specimen", "LV.1987/42", "action", "coating", "which", uuid.NewString()}},
		{"solvent", "words", "not both", 422, []string{"with", "acetone", "words", "acetone, old"}},
		{"solvent", "with", "", 422, []string{"with", "no-such-material", "amount", "2"}},
		{"measured", "amount", "Write how much is left", 422, []string{"date", "2026-02-01"}},
		{"measured", "unit", "", 422, []string{"amount", "3", "unit", "fathoms"}},
	} {
		form := d.filled(x.form, x.typed...)
		got := d.send(form).want(x.status)
		page := html.UnescapeString(string(got.body))
		id := x.form + "-" + x.field
		field := regexp.MustCompile(`(?s)id="` + id + `-fault">.*?</(?:span></span|p)>`).FindString(string(got.body))
		if x.field == "unit" { // the amount's words say it
			field = page
		}
		if field == "" || !strings.Contains(html.UnescapeString(field), x.says) {
			t.Errorf("%s %v: %q is not beside the field %s: %s", x.form, x.typed, x.says, x.field, page)
		}
		for i := 1; i < len(x.typed); i += 2 {
			choice := slices.Contains([]string{"which", "role", "action", "unit", "with"}, x.typed[i-1])
			if !choice && !strings.Contains(page, `value="`+strings.ReplaceAll(x.typed[i], "\n", "\n")+`"`) {
				t.Errorf("%s: %q is lost", x.form, x.typed[i])
			}
		}
		if strings.Contains(string(got.body), "<script") || !strings.Contains(page, "Nothing was recorded") {
			t.Errorf("got %s", got.body)
		}
	}
	for _, broken := range []url.Values{d.filled("use", "form", "delete"), d.filled("use", "once", "x"), d.filled("use", "once", "")} {
		if got := d.send(broken); got.status != 400 {
			t.Errorf("%v: got %d", broken, got.status)
		}
	}
	d.ask(http.MethodPost, d.path, d.filled("use", "area", strings.Repeat("x", 70<<10))).want(413)
	d.send(d.filled("use", "area", "\xff")).want(400)
	d.ask(http.MethodPost, "/v1/batches/"+uuid.NewString(), d.filled("use", "amount", "1")).want(404)
	if d.treatments() != before {
		t.Errorf("%d treatments were recorded", d.treatments()-before)
	}
}

// A number that nobody knows makes a specimen only where that is chosen; one that is nearly known asks which is meant.
func TestWhichSpecimenIsMeantAtTheBottle(t *testing.T) {
	t.Parallel()
	d := newDesk(t, "bench", "store")
	specimen := func() string {
		made := d.latest("/v1/treatments?batch=" + d.path[len("/v1/batches/"):])
		return idOf(made["statement"].(object)["specimen"])
	}
	near := d.filled("use", "specimen", "LV.1987/42", "action", "coating")
	asked := d.send(near).want(409)
	if !strings.Contains(string(asked.body), `value="01900000-0000-7000-8000-000000000022"`) {
		t.Fatalf("the near one is no choice: %s", asked.body)
	}
	near.Set("which", "01900000-0000-7000-8000-000000000022")
	d.send(near).want(200)
	if got := specimen(); got != "01900000-0000-7000-8000-000000000022" {
		t.Errorf("got the specimen %s", got)
	}
	for _, number := range []string{"LV.1987/42", "QX 77"} {
		form := d.filled("use", "specimen", number, "action", "coating", "which", "another")
		d.send(form).want(200)
		read := d.do(http.MethodGet, "/v1/specimens/"+specimen(), nil).want(200)
		if !strings.Contains(string(read.body), `"`+number+`"`) {
			t.Errorf("%s: got %s", number, read.body)
		}
		d.send(form).want(200) // sent again it is no other one
		found := d.do(http.MethodGet, "/v1/specimen-lookup?number="+url.QueryEscape(number), nil).want(200)
		if got := found.at("specimens").(array); len(got) != 1 {
			t.Errorf("%s: %d specimens carry it", number, len(got))
		}
	}
	d.create("/v1/specimens", object{"identifiers": array{object{"kind": "catalogue-number", "value": "QX 77"}},
		"collection": "herpetology"})
	got := d.send(d.filled("use", "specimen", "QX 77", "action", "coating")).want(409)
	if !strings.Contains(string(got.body), "herpetology") {
		t.Errorf("got %s, want the two told apart", got.body)
	}
}

// The forms are there for those whose roles allow it, and refused to the others.
func TestWhoMaySendWhichForm(t *testing.T) {
	t.Parallel()
	d := newDesk(t, "store")
	keeper := d.filled("use", "specimen", "LV.1987/0042", "action", "coating")
	got := string(d.send(keeper).want(403).body)
	if !strings.Contains(got, "LV.1987/0042") || !strings.Contains(got, "scope") {
		t.Errorf("got %s", got)
	}
	reader := d.signedIn(d.path, "u-20", "desk")
	page := reader.ask(http.MethodGet, d.path, nil).want(200)
	if strings.Contains(string(page.body), `name="form"`) {
		t.Errorf("a reader has forms: %s", page.body)
	}
	for _, form := range []string{"use", "solvent", "measured"} {
		values := d.filled(form, "amount", "1")
		values.Set("token", reader.token(d.path))
		reader.ask(http.MethodPost, d.path, values).want(403)
	}
	recorder := d.signedIn(d.path, "u-21", "bench")
	if page := recorder.ask(http.MethodGet, d.path, nil).want(200); strings.Contains(string(page.body), `value="measured"`) {
		t.Errorf("a recorder has forms of the stock: %s", page.body)
	}
	for name, value := range map[string]string{"key": d.key, "token": d.signIn.token("u-17", "store")} {
		form := d.filled("use", "amount", "1")
		other := &browser{t, d.signIn.service, map[string]string{}}
		if got := other.ask(http.MethodPost, d.path, form, header{"Authorization", "Bearer " + value}); got.status != 401 {
			t.Errorf("a %s sends a form: got %d", name, got.status)
		}
	}
	form := d.filled("use", "amount", "1")
	for name, change := range map[string]func() reply{
		"no token": func() reply { form.Del("token"); return d.send(form) },
		"another site": func() reply {
			return d.ask(http.MethodPost, d.path, d.filled("use", "amount", "1"), header{"Sec-Fetch-Site", "cross-site"},
				header{"Origin", "https://thief.example"})
		},
	} {
		if got := change(); got.status != 403 {
			t.Errorf("%s: got %d", name, got.status)
		}
	}
	d.ask(http.MethodPost, d.path, d.filled("use", "amount", "1"), header{"Accept", "application/json"}).want(406)
	if n := len(d.do(http.MethodGet, d.path+"/amount-changes", nil).want(200).at("items").(array)); n != 0 {
		t.Errorf("%d changes were recorded", n)
	}
}

// What is odd about a use stands on the page, because what happened is never refused; today is the institution's day.
func TestWhatIsOddIsSaidAtTheBottle(t *testing.T) {
	t.Parallel()
	d := newDesk(t, "bench", "store")
	got := d.send(d.filled("use", "amount", "500")).want(200)
	if !strings.Contains(string(got.body), "is recorded") || !strings.Contains(string(got.body), "More left this batch than it held") {
		t.Errorf("got %s, want it recorded, and said that more was taken out than there was", got.body)
	}
	zone, _ := time.LoadLocation("Europe/Vienna")
	before := time.Now().In(zone).Format(time.DateOnly)
	page := d.ask(http.MethodGet, d.path, nil).want(200)
	if after := time.Now().In(zone).Format(time.DateOnly); !strings.Contains(string(page.body), `value="`+before+`"`) &&
		!strings.Contains(string(page.body), `value="`+after+`"`) {
		t.Errorf("the date is not today: %s", page.body)
	}
}
