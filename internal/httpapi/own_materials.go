package httpapi

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"github.com/go-json-experiment/json/jsontext"
	"github.com/google/uuid"

	"meniscus/api"
	"meniscus/internal/fault"
	"meniscus/internal/ledger"
	"meniscus/internal/material"
	"meniscus/internal/postgres"
	"meniscus/internal/record"
)

// stateMaterial makes or amends an institution's own material.
func stateMaterial(s *Server, c *call) (*answer, error) {
	id, err := uuid.Parse(c.echo.Param("materialId"))
	if err != nil {
		return nil, fault.Of(fault.Conflict, "material-built-in",
			"Built-in materials cannot be changed. State one of your own under a UUID, and say with `like` which built-in one it is like.")
	}
	request, err := decode[struct {
		Reason    *string        `json:"reason"`
		Statement jsontext.Value `json:"statement"`
	}](c)
	if err != nil {
		return nil, err
	}
	row, err := s.current(c, id)
	switch {
	case fault.Is(err, fault.NotFound):
		return s.newMaterial(c, id, request.Statement)
	case err != nil:
		return nil, err
	case row.Kind != record.KindMaterial:
		return nil, fault.Of(fault.Conflict, "id-taken", "A record of another kind has this id; choose another.")
	}
	return s.restateMaterial(c, row, request.Reason, request.Statement)
}

func (s *Server) newMaterial(c *call, id uuid.UUID, statement jsontext.Value) (*answer, error) {
	if c.echo.Request().Header.Get("If-Match") != "" {
		return nil, fault.Of(fault.Stale, "record-unknown", "There is no such material yet, so that none has this ETag; leave If-Match out to make it.")
	}
	written, err := s.record(c, record.KindMaterial, creation{ID: &id, Statement: statement}, nil)
	if err != nil {
		return nil, err
	}
	row, err := written.Primary(record.KindMaterial)
	if err != nil {
		return nil, err
	}
	return created(row, written.Replayed), nil
}

// restateMaterial amends a material, or finds that nothing was to change.
func (s *Server) restateMaterial(c *call, row postgres.Row, reason *string, statement jsontext.Value) (*answer, error) {
	d, err := readMaterialStatement(s, c, row.Record, statement)
	if err != nil {
		return nil, under("/statement", err)
	}
	inForce, err := s.store.InForce(c.ctx(), c.principal.Institution, row.Record)
	if err != nil {
		return nil, err
	}
	if slices.Equal(statementOf(inForce.Body), d.statement) {
		return &answer{body: recordJSON(row), etag: recordTag(row)}, nil
	}
	if c.echo.Request().Header.Get("If-Match") == "" {
		return nil, fault.Of(fault.PreconditionMissing, "if-match-missing",
			"This material exists with another statement. To amend it send its ETag in If-Match; a GET of /v1/records/%s shows it.", row.Record)
	}
	if err := c.matches(row); err != nil {
		return nil, err
	}
	if reason == nil {
		return nil, fault.New("missing", "/reason", "Say why the material is stated anew: the earlier statement stays readable.")
	}
	body := slices.Concat([]byte(`{"reason":`), quoted(*reason), []byte(`,"statement":`), d.statement, []byte(`}`))
	a, err := s.revise(c, row, ledger.Amended, body, d.project, nil)
	if err != nil {
		return nil, err
	}
	a.status = http.StatusOK
	return a, nil
}

func readMaterialStatement(_ *Server, _ *call, self uuid.UUID, raw []byte) (draft, error) {
	var st api.MaterialStatement
	if err := decodeInto(raw, &st); err != nil {
		return draft{}, err
	}
	own, err := ownMaterial(self, st)
	if err == nil {
		err = material.Builtin().CheckOwn(own)
	}
	if err != nil {
		return draft{}, atWritten(st, err)
	}
	statement, err := encode(st)
	return draft{statement: statement, project: func(p *postgres.Projector) { p.Material(own.Like) }}, err
}

// ownMaterial reads a statement for the core; it faults values that are not said
// in exactly one way.
func ownMaterial(id uuid.UUID, st api.MaterialStatement) (material.OwnMaterial, error) {
	var faults fault.List
	own := material.OwnMaterial{
		ID: id.String(), Name: st.Name, Like: deref(st.Like), LikeGrade: deref(st.LikeGrade), Kind: material.Kind(deref(st.Kind)),
		Note: deref(st.Note), TradeNames: deref(st.TradeNames), Citation: st.Citation,
	}
	for i, v := range deref(st.Values) {
		x := material.OwnValue{Property: material.Property(v.Property), Unit: deref(v.Unit), Remark: deref(v.Remark), Citation: deref(v.Citation)}
		x.Value = writtenValue(v, fmt.Sprintf("/values/%d", i), &faults)
		if v.At != nil {
			x.At = celsius(*v.At, fmt.Sprintf("/values/%d", i)+"/at", &faults)
		}
		own.Values = append(own.Values, x)
	}
	for _, o := range deref(st.Observed) {
		own.Observed = append(own.Observed, material.OwnObservation{
			Solvent: o.Solvent, Age: material.Age(o.Age), Observed: material.Observed(o.Observed), Remark: deref(o.Remark), Citation: deref(o.Citation),
		})
	}
	return own, faults.Err()
}

// writtenValue is a value in the writing of the tables, with its digits.
func writtenValue(v api.OwnValue, at string, faults *fault.List) string {
	switch {
	case v.Value != nil && v.Low == nil && v.High == nil && v.Words == nil:
		return v.Value.String()
	case v.Value == nil && v.Low != nil && v.High != nil && v.Words == nil:
		return v.Low.String() + ".." + v.High.String()
	case v.Value == nil && v.Low != nil && v.Words == nil:
		return ">=" + v.Low.String()
	case v.Value == nil && v.High != nil && v.Words == nil:
		return "<=" + v.High.String()
	case v.Value == nil && v.Low == nil && v.High == nil && v.Words != nil:
		return *v.Words
	}
	faults.Add("choice", at, "Say the value in one way: a figure as value, a range or a bound as low and high, or words.")
	return ""
}

func celsius(q api.Quantity, at string, faults *fault.List) *float64 {
	f := q.Value.Float64()
	if q.Unit != "Cel" || f < -273.15 || f > 2000 {
		faults.Add("unit-wrong", at, "Give the temperature in Cel, from -273.15 to 2000.")
	}
	return &f
}

// atWritten moves a fault of a value to the member that it was written in.
func atWritten(st api.MaterialStatement, err error) error {
	var list fault.List
	if !errors.As(err, &list) {
		return err
	}
	moved := make(fault.List, len(list))
	for n, f := range list {
		moved[n] = f
		for i, v := range deref(st.Values) {
			if f.Pointer == fmt.Sprintf("/values/%d", i)+"/value" && v.Value == nil {
				copied := *f
				copied.Pointer = strings.TrimSuffix(f.Pointer, "value") + memberOf(v)
				moved[n] = &copied
			}
		}
	}
	return moved
}

func memberOf(v api.OwnValue) string {
	switch {
	case v.Words != nil:
		return "words"
	case v.Low != nil:
		return "low"
	}
	return "high"
}

// ownMaterials reads the institution's own materials. One that this release no
// longer takes is left out, and said in the log.
func (s *Server) ownMaterials(ctx context.Context, institution uuid.UUID) ([]material.OwnMaterial, error) {
	const pageSize = 500
	var own []material.OwnMaterial
	after := uuid.Nil
	for {
		rows, err := s.store.List(ctx, institution, postgres.Filter{Kind: record.KindMaterial}, after, pageSize)
		if err != nil {
			return nil, err
		}
		for _, row := range rows {
			m, err := readOwn(row)
			if err != nil {
				s.log.Warn("own material left out", "record", row.Record, "error", err)
				continue
			}
			own = append(own, m)
		}
		if len(rows) < pageSize {
			return own, nil
		}
		after = rows[len(rows)-1].Record
	}
}

func readOwn(row postgres.Row) (material.OwnMaterial, error) {
	var st api.MaterialStatement
	if err := decodeInto(statementOf(row.Body), &st); err != nil {
		return material.OwnMaterial{}, err
	}
	own, err := ownMaterial(row.Record, st)
	if err != nil {
		return own, err
	}
	return own, material.Builtin().CheckOwn(own)
}
