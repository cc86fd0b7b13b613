package mobile

import (
	"context"
	"slices"
	"strconv"
	"sync"
	"sync/atomic"
	"time"

	"chinlift/core"
)

// House choices, no source: how often it is looked what changed with the time
// alone; how often, and how many times, something that is over is told; and
// how many alarms are set at all, since a phone takes so many at the most (iOS:
// 64, from memory).
const (
	lookEvery  = time.Minute
	tellEvery  = time.Minute
	tellTimes  = 5
	mostAlarms = 40
)

// herald tells the Watcher what changed, from one goroutine, so that no tap
// waits for it. While it rests it says nothing: then the phone's own alarms do.
type herald struct {
	companion *core.Companion
	after     func(time.Duration) <-chan time.Time

	kick chan struct{} // holds one
	stop chan struct{}
	done chan struct{}

	recorded atomic.Bool // a tap was put on disk since it was last told

	mu      sync.Mutex // held while the Watcher is told
	watcher Watcher
	awake   bool
	told    *Notice   // what the Watcher knows; nil: nothing
	until   time.Time // what was due up to here was told
}

func newHerald(c *core.Companion, after func(time.Duration) <-chan time.Time) *herald {
	h := &herald{companion: c, kick: make(chan struct{}, 1), stop: make(chan struct{}), done: make(chan struct{}), after: after}
	go h.run()
	return h
}

// run tells until the end.
func (h *herald) run() {
	defer close(h.done)
	for {
		wait := h.look()
		select {
		case <-h.stop:
			return
		case <-h.kick:
		case <-h.after(wait):
		}
	}
}

// look tells what is to be told now, and gives how long nothing will be.
func (h *herald) look() (wait time.Duration) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if !h.awake || h.watcher == nil {
		return lookEvery
	}
	return h.say()
}

// say tells the Watcher. It survives one that panics, or a Platform that does.
func (h *herald) say() (wait time.Duration) {
	wait = lookEvery
	defer func() { _ = recover() }()
	if h.recorded.Swap(false) {
		// The clinic's setting, before the phone's: where ether is, a motor is a
		// spark. What cannot be asked counts as no.
		if how, err := h.companion.Alarm(context.Background()); err == nil && how.Buzz {
			h.watcher.Recorded()
		}
	}
	h.companion.LockOverdue(context.Background())
	n, now, err := h.notice(context.Background())
	if err != nil {
		return wait // closed meanwhile, or it cannot be read: the next look will tell
	}
	if h.told == nil || !h.told.same(n) {
		h.told = n
		h.watcher.Changed(n)
	}
	for i := range n.alarms {
		a := &n.alarms[i]
		at := time.UnixMilli(a.At)
		if at.After(now) {
			wait = min(wait, at.Sub(now)) // they are in order
			break
		}
	}
	if now.Before(h.until) {
		h.until = now // the clock was set back
	}
	for _, a := range h.over(n, now) {
		h.watcher.Due(&a)
	}
	h.until = now
	return max(wait, time.Millisecond)
}

// over gives what came due since it was last told, each due once.
func (h *herald) over(n *Notice, now time.Time) (all []Alarm) {
	for _, a := range n.due {
		if at := time.UnixMilli(a.At); !at.After(now) && at.After(h.until) {
			all = append(all, a)
		}
	}
	return all
}

// notice works out how the phone is to stand.
func (h *herald) notice(ctx context.Context) (*Notice, time.Time, error) {
	r := h.companion.Now()
	n := &Notice{Stored: h.companion.Stored(), Path: "/"}
	table, err := h.companion.OnTable(ctx)
	if err != nil {
		return nil, r.Wall, err
	}
	if len(table) > 0 {
		n.ScreenOn, n.Path = true, tableOf(table[0].ID)
		key, err := h.companion.Local(ctx, core.LocalMarkKey)
		if err != nil {
			return nil, r.Wall, err
		}
		n.MarkKey = key == "yes"
	}
	how, err := h.companion.Alarm(ctx)
	if err != nil {
		return nil, r.Wall, err
	}
	coming, err := h.companion.Coming(ctx)
	if err != nil {
		return nil, r.Wall, err
	}
	for _, c := range coming {
		// Told when its time comes, and each minute while it is over, a few
		// times: those that are still ahead are alarms, the last one that is
		// past is due.
		past := max(0, int(r.Wall.Sub(c.At)/tellEvery))
		if c.At.After(r.Wall) {
			past = -1
		}
		for k := max(0, past); k <= past+tellTimes; k++ {
			at := c.At.Add(time.Duration(k) * tellEvery)
			a := Alarm{
				Name: c.Name + "." + strconv.Itoa(k), At: at.UnixMilli(), SinceBoot: (r.SinceBoot + at.Sub(r.Wall)).Milliseconds(),
				Words: c.Words, Path: tableOf(c.Case), Sound: how.Sound, Buzz: how.Buzz,
			}
			if k == past {
				n.due = append(n.due, a)
			} else {
				n.alarms = append(n.alarms, a)
			}
		}
	}
	slices.SortStableFunc(n.alarms, func(a, b Alarm) int { return int(a.At - b.At) })
	if len(n.alarms) > mostAlarms {
		n.alarms = n.alarms[:mostAlarms]
	}
	return n, r.Wall, nil
}

func tableOf(id string) string { return "/case/" + id + "/table" }

// same reports that two notices ask the same of the phone. That an instant
// reads a little otherwise by the clock since boot is no change.
func (n *Notice) same(o *Notice) bool {
	return n.Stored == o.Stored && n.ScreenOn == o.ScreenOn && n.MarkKey == o.MarkKey && n.Path == o.Path &&
		slices.EqualFunc(n.alarms, o.alarms, func(a, b Alarm) bool {
			drift := a.SinceBoot - b.SinceBoot
			a.SinceBoot = b.SinceBoot
			return a == b && drift < 2000 && drift > -2000
		})
}

func (n *Notice) count() int {
	if n == nil {
		return 0
	}
	return len(n.alarms)
}

func (n *Notice) at(i int) *Alarm {
	if i < 0 || i >= n.count() {
		return nil
	}
	a := n.alarms[i]
	return &a
}

// tell has it looked at what changed; recorded says that a tap is on disk.
func (h *herald) tell(recorded bool) {
	if recorded {
		h.recorded.Store(true)
	}
	h.wakeUp()
}

func (h *herald) wakeUp() {
	select {
	case h.kick <- struct{}{}:
	default: // it is coming already
	}
}

// watch has another Watcher told, at once of everything.
func (h *herald) watch(w Watcher) {
	h.mu.Lock()
	h.watcher, h.told = w, nil
	h.mu.Unlock()
	h.wakeUp()
}

// wake begins to tell. What was due before is not told again: a notification
// did, and the page says that it is over.
func (h *herald) wake() {
	now := h.companion.Now().Wall
	h.mu.Lock()
	h.awake, h.told, h.until = true, nil, now
	h.mu.Unlock()
	h.wakeUp()
}

// rest tells a last time how the phone is to stand, and falls silent.
func (h *herald) rest() {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.awake && h.watcher != nil {
		h.told = nil
		h.say()
	}
	h.awake = false
}

// end ends the goroutine.
func (h *herald) end() {
	close(h.stop)
	<-h.done
}
