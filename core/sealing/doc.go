// Package sealing is the cryptography by which private parts lie sealed on a
// device: who can open them, and by what.
//
// A clinic has one key pair (age, X25519). Its public half, the recipient, lies
// open, so that whatever is recorded can be sealed without asking anybody for
// anything. Its private half, the identity, lies nowhere in the clear: it is
// wrapped once under a PIN, for the everyday, and once under a recovery key of
// 128 random bits, which is printed and put away.
//
// Private parts are not sealed to the clinic one by one. Each thing that lines
// are about, such as a case, has a key of its own; that key is sealed to the
// clinic, and what is recorded is sealed with it. While a case is open its key
// is also kept under the secret of the device, so that the case can be read
// without a PIN; to lock the case is to destroy those few bytes. See Box, Wrap
// and Vault.
//
// A PIN has a few digits, and could be tried by a program in hours. It is
// stretched (argon2id), but what holds is that the secret of the device goes
// into it as well: where a phone's key store holds that secret, a copy of the
// disk is nothing to try on. A desk has no such store: there the secret is a
// file, and who takes the whole disk takes it along.
//
// What this package is not: it hides, and shows what was changed, but proves
// nothing about who wrote. It does not hold off somebody who runs programs as
// the user of the device, or who holds the device while it is unlocked. It
// reads no file, no clock and no database.
//
// The form of a wrapped key is that of age (age-encryption.org/v1); so the
// printed recovery key opens the wrapped identity with any program that knows
// age. The rest is XChaCha20-Poly1305, HKDF with SHA-256 (RFC 5869) and
// argon2id (RFC 9106). Sizes and costs without a source beside them are house
// choices.
package sealing
