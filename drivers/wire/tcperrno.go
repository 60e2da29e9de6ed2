package wire

import (
	"errors"
	"syscall"
)

// Numbers of Windows Sockets (from memory of winerror.h). Go's names such as
// [syscall.ECONNREFUSED] are inventions there, and what a socket says is none of
// them. No other system has errors so high.
const (
	wsaNetUnreach  = syscall.Errno(10051) // WSAENETUNREACH
	wsaTimedOut    = syscall.Errno(10060) // WSAETIMEDOUT
	wsaConnRefused = syscall.Errno(10061) // WSAECONNREFUSED
	wsaHostUnreach = syscall.Errno(10065) // WSAEHOSTUNREACH
)

// saysRefused reports whether the far computer is there and nothing listens.
func saysRefused(err error) bool { return anyOf(err, syscall.ECONNREFUSED, wsaConnRefused) }

// saysNoWay reports whether this computer knows no way to the far one.
func saysNoWay(err error) bool {
	return anyOf(err, syscall.EHOSTUNREACH, syscall.ENETUNREACH, wsaHostUnreach, wsaNetUnreach)
}

// saysNoAnswer reports whether the system waited for the far computer in vain.
func saysNoAnswer(err error) bool { return anyOf(err, syscall.ETIMEDOUT, wsaTimedOut) }

func anyOf(err error, numbers ...syscall.Errno) bool {
	var no syscall.Errno
	if !errors.As(err, &no) {
		return false
	}
	for _, n := range numbers {
		if no == n {
			return true
		}
	}
	return false
}
