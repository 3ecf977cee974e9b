package api

//go:generate go run ./wiretypes
