package timeline

import (
	"encoding/base64"
	"strings"
)

// ClinicKey is the key pair by which a clinic seals private parts: the public
// half in the clear, and the private one sealed under the recovery key that the
// clinic has on paper. Without that paper it opens nothing, and nothing is
// sealed to it by a device whose people have not shown that they hold the
// paper. About is "clinic-key".
type ClinicKey struct {
	Recipient string `json:"recipient"` // "age1…", X25519
	Identity  string `json:"identity"`  // the private half: an age file for a passphrase, in base64
}

// AboutClinicKey is what every clinic-key is about.
const AboutClinicKey = "clinic-key"

// longestIdentity bounds the age file, in base64.
const longestIdentity = 2000

// Kind is "clinic-key/1".
func (*ClinicKey) Kind() Kind { return "clinic-key/1" }

// Check answers a *FieldError for the first field at fault.
func (p *ClinicKey) Check() error {
	c := check(p)
	switch {
	case p.Recipient == "":
		c.fail("recipient", "missing")
	case !strings.HasPrefix(p.Recipient, "age1") || len(p.Recipient) > 100:
		c.fail("recipient", "not-in-list")
	}
	_, err := base64.StdEncoding.DecodeString(p.Identity)
	switch {
	case p.Identity == "":
		c.fail("identity", "missing")
	case len(p.Identity) > longestIdentity:
		c.fail("identity", "too-long")
	case err != nil:
		c.fail("identity", "not-in-list")
	}
	return c.err()
}
