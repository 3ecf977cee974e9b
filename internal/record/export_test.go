package record

// Reasons are the reasons of single fields.
var Reasons = reasons
