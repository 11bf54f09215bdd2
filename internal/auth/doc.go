// Package auth proves who somebody is: passwords with argon2id, signed access
// tokens, refresh tokens and the sessions they belong to, and the keys that
// sign.
//
// It must not know SQL, HTTP, the environment or what a role allows. It reads
// no clock: whoever calls says what time it is. Start reading at Passwords for
// sign-in, Verifier for a request, and Rotate for a refresh.
package auth
