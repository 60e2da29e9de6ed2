//go:build race

package app_test

// raced tells that the race detector looks on.
const raced = true
