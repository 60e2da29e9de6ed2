// Package timestamp gets and reads time-stamp tokens (RFC 3161): a time-stamp
// authority signs that it saw a digest at a certain time.
//
//	r, err := timestamp.NewRequest(head, nil)             // head: a SHA-256
//	response, err := timestamp.Ask(ctx, client, url, r)   // keep r.DER() and response
//	token, err := timestamp.Read(r.DER(), response)
//	err = token.VerifySignature(roots)
//
// What a token proves: what the digest was made of existed by [Token.GenTime],
// give or take the accuracy that the authority states, if the authority is
// honest and its key was in its hands alone. It says nothing about whether the
// content is true, who wrote it, how long it existed before, or that there is no
// second version with a token of its own.
//
// What is checked where:
//
//   - [Read] compares the token with the request: granted, the same digest, the
//     same nonce. It checks nothing about the signer. Without
//     [Token.VerifySignature] anybody may have made the token, with any time in
//     it, and any name.
//   - [Token.VerifySignature] checks the signature, and the signer's certificate
//     against roots that the caller trusts, as of GenTime. It does not ask
//     whether a certificate was revoked; whoever has to rule that out asks the
//     authority's certification service.
//
// A kept request and response can be checked by any other program that knows
// RFC 3161; nothing in them is ours.
//
// The package imports nothing of ours and keeps no state. Its functions are safe
// for concurrent use.
package timestamp

import "errors"

var (
	// ErrRefused says that the authority answered, and gave no token.
	ErrRefused = errors.New("the time-stamp authority refused")
	// ErrMismatch says that the token belongs to another request.
	ErrMismatch = errors.New("the time-stamp belongs to something else")
	// ErrMalformed says that bytes are not what RFC 3161 defines.
	ErrMalformed = errors.New("not a time-stamp as RFC 3161 defines it")
	// ErrSignature says that the token is not signed by somebody who may.
	ErrSignature = errors.New("the time-stamp's signature proves nothing")
)
