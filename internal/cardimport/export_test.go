package cardimport

// ValueAt gives the value at a JSON Pointer, for the tests.
var ValueAt = valueAt
