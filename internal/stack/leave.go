package stack

// left tells whether the context has ended. Long loops ask it for each layer or
// treatment, and end.
func (s *Stack) left() bool { return s.Err() != nil }

// Err is the error of the context that the stack was made with. A view's answer
// is complete only while it is nil.
func (s *Stack) Err() error {
	if s.config.Context == nil {
		return nil
	}
	return s.config.Context.Err()
}
