package record

// Members are what a statement says, member by member, as it was said: for people
// to read. Code that needs its meaning uses its Value.
type Members []Member

// Member is one of them, by the name that the statement gives it. Its value is a
// text (string), a Word, a Ref, an edtf.Date, a time.Time, a quantity.Decimal, an
// int, a bool, further Members, or a list of such values ([]any).
type Member struct {
	Name  string
	Value any
}

// Word is a word of one of the contract's lists.
type Word string

// At is the value of a member; nil where there is none.
func (m Members) At(name string) any {
	for _, member := range m {
		if member.Name == name {
			return member.Value
		}
	}
	return nil
}
