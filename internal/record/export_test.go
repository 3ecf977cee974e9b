package record

// Field is what one rule asks for.
type Field = field

// FieldOf names a field by its rule and its pointer's last member.
func FieldOf(rule, name string) Field { return field{rule, name} }

// Reasons are the reasons of single fields.
var Reasons = reasons

// Looked is how many inputs were looked at.
func (k *Solvents) Looked() int { return k.looked }
