package core

import (
	"os"
	"strings"
	"sync"
	"time"

	"golang.org/x/sys/unix"
)

var bootID = sync.OnceValue(func() string {
	b, err := os.ReadFile("/proc/sys/kernel/random/boot_id")
	if err != nil {
		return "unknown"
	}
	return strings.TrimSpace(string(b))
})

// sinceBoot reads the clock that goes on while the machine sleeps, which Go's
// own monotonic clock does not.
func sinceBoot() (time.Duration, string) {
	var t unix.Timespec
	if err := unix.ClockGettime(unix.CLOCK_BOOTTIME, &t); err != nil {
		return sinceProcessStart(), "unknown"
	}
	return time.Duration(t.Nano()), bootID()
}
