package form

import (
	"errors"
	"fmt"
)

// Code sorts errors by what the caller does about them.
type Code string

// The codes, with the exit status of the command line beside each.
const (
	// CodeUsage: the words of the command are wrong (2).
	CodeUsage Code = "usage"
	// CodeClip: the clip can't be used; the sentence says why (3).
	CodeClip Code = "clip"
	// CodeMissing: something is missing on this machine (4).
	CodeMissing Code = "missing"
)

// Error is a fact about the coach's clip, command or machine, with a
// sentence that says what to do about it. The cause, if any, is wrapped.
type Error struct {
	Code     Code
	Sentence string
	Cause    error
}

// Error gives the sentence alone: it is what the coach reads.
func (e *Error) Error() string { return e.Sentence }

// Unwrap gives the cause.
func (e *Error) Unwrap() error { return e.Cause }

// ClipError says why a clip can't be used and how to film it better.
func ClipError(format string, args ...any) *Error { return newError(CodeClip, format, args...) }

// UsageError says what is wrong with the command's words.
func UsageError(format string, args ...any) *Error { return newError(CodeUsage, format, args...) }

// MissingError says what this machine lacks and how to get it.
func MissingError(format string, args ...any) *Error { return newError(CodeMissing, format, args...) }

func newError(code Code, format string, args ...any) *Error {
	err := fmt.Errorf(format, args...)
	return &Error{Code: code, Sentence: err.Error(), Cause: errors.Unwrap(err)}
}

// CodeOf gives the code of the first Error in the chain, or "".
func CodeOf(err error) Code {
	if e, ok := errors.AsType[*Error](err); ok {
		return e.Code
	}
	return ""
}
