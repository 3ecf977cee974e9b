package record

// Reasons are the reasons of single fields.
var Reasons = reasons

// Looked is how many inputs were looked at.
func (k *Solvents) Looked() int { return k.looked }
