package stack

// left tells whether nobody waits for the answer any more. Long loops ask it for
// each layer or treatment, and end.
func (s *Stack) left() bool { return s.Err() != nil }

// Err is the error of the context that the stack was made with. What a view gives
// is whole only while it is nil.
func (s *Stack) Err() error {
	if s.config.Context == nil {
		return nil
	}
	return s.config.Context.Err()
}
