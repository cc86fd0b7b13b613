package main

import (
	"crypto/rand"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"golang.org/x/crypto/chacha20poly1305"

	"chinlift/mobile/keep"
)

// A desk has no key store. What stands in for one is a file in the user's
// state folder, readable by this user alone: a copy of the data folder goes
// without it, and cannot be opened by trying PINs. Whoever takes the whole disk,
// or runs programs as this user, has both.
type secretFile struct{ path string }

const secretEnding = ".secret"

// safeOf gives the place for the secret of a data folder, which must be there.
func safeOf(dir string) (secretFile, error) {
	path, err := keptFile(dir)
	return secretFile{path + secretEnding}, err
}

// key reads the key, and makes it where it is not there yet.
func (s secretFile) key(fresh bool) ([]byte, error) {
	k, err := os.ReadFile(s.path)
	if errors.Is(err, fs.ErrNotExist) && fresh {
		k = make([]byte, chacha20poly1305.KeySize)
		if _, err := rand.Read(k); err != nil {
			return nil, err
		}
		if err := os.MkdirAll(filepath.Dir(s.path), 0o700); err != nil {
			return nil, err
		}
		return k, keep.WriteSynced(s.path, k)
	}
	if err == nil && len(k) != chacha20poly1305.KeySize {
		err = errors.New("the secret of this computer is damaged")
	}
	return k, err
}

// Wrap seals a secret for this computer and user.
func (s secretFile) Wrap(secret []byte) ([]byte, error) {
	k, err := s.key(true)
	if err != nil {
		return nil, err
	}
	a, err := chacha20poly1305.NewX(k)
	if err != nil {
		return nil, err
	}
	nonce := make([]byte, a.NonceSize())
	if _, err := rand.Read(nonce); err != nil {
		return nil, err
	}
	return a.Seal(nonce, nonce, secret, nil), nil
}

// Unwrap opens what Wrap sealed.
func (s secretFile) Unwrap(wrapped []byte) ([]byte, error) {
	k, err := s.key(false)
	if err != nil {
		return nil, err
	}
	a, err := chacha20poly1305.NewX(k)
	if err != nil {
		return nil, err
	}
	if len(wrapped) < a.NonceSize() {
		return nil, io.ErrUnexpectedEOF
	}
	return a.Open(nil, wrapped[:a.NonceSize()], wrapped[a.NonceSize():], nil)
}
