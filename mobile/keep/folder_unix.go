//go:build linux || darwin

package keep

import (
	"errors"
	"os"
)

// syncFolder makes a renaming in a folder outlast a power cut.
func syncFolder(dir string) error {
	f, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
