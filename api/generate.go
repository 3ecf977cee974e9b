package api

//go:generate go run ./assemble
//go:generate go run ./wiretypes
