package sealing

import (
	"encoding/json"
	"errors"
	"slices"
)

// Vault is what a device keeps of the clinic's keys. It lies in the data
// folder; nothing in it opens anything by itself.
type Vault struct {
	Recipient string      `json:"recipient"`      // the clinic for which is sealed from now on
	Secret    []byte      `json:"secret"`         // of this device, wrapped where no copy of the folder reaches
	PIN       *PINLock    `json:"pin,omitempty"`  // nil: no PIN opens anything here
	Clinics   []ClinicKey `json:"clinics"`        // all that were ever in use here
	Tries     Tries       `json:"tries,omitzero"` // of the PIN
	Printed   bool        `json:"printed"`        // somebody said that the recovery key is on paper
}

// ClinicKey is a clinic's key pair as it may lie about: the public half, and
// the private one under the recovery key. Devices of a clinic hand it to each
// other.
type ClinicKey struct {
	Recipient string `json:"recipient"`
	Recovery  []byte `json:"recovery"` // an age file; see Recovery.Wrap
}

// VaultSize is the length of a written vault: always the same, so that each
// one lies where the last one lay, and nothing of that remains.
const VaultSize = 8 << 10

// ErrVault says that a vault cannot be read, or does not fit.
var ErrVault = errors.New("the vault of keys cannot be read")

// Bytes writes the vault.
func (v *Vault) Bytes() ([]byte, error) {
	data, err := json.Marshal(v)
	if err != nil {
		return nil, err
	}
	if len(data) >= VaultSize {
		return nil, ErrVault
	}
	return append(data, slices.Repeat([]byte{' '}, VaultSize-len(data))...), nil
}

// ParseVault reads one.
func ParseVault(data []byte) (*Vault, error) {
	var v Vault
	if err := json.Unmarshal(data, &v); err != nil {
		return nil, errors.Join(ErrVault, err)
	}
	return &v, nil
}

// With gives the vault with a clinic's key in it, in the place of one of the
// same key pair.
func (v Vault) With(k ClinicKey) Vault {
	v.Clinics = slices.Clone(v.Clinics)
	if i := slices.IndexFunc(v.Clinics, func(o ClinicKey) bool { return o.Recipient == k.Recipient }); i >= 0 {
		v.Clinics[i] = k
	} else {
		v.Clinics = append(v.Clinics, k)
	}
	return v
}

// Recover opens the clinic keys that a recovery key opens. ErrSealed when it
// opens none.
func Recover(r Recovery, keys []ClinicKey) ([]Identity, error) {
	var ids []Identity
	for _, k := range keys {
		if id, err := r.Unwrap(k.Recovery); err == nil && id.Recipient() == k.Recipient {
			ids = append(ids, id)
		}
	}
	if len(ids) == 0 {
		return nil, ErrSealed
	}
	return ids, nil
}
