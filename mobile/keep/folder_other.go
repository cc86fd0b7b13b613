//go:build !linux && !darwin

package keep

// syncFolder does nothing here: folders cannot be synced.
func syncFolder(string) error { return nil }
