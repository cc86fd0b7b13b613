package must

import (
	"errors"
	"fmt"
	"testing"
)

// ended notes what ends a test.
type ended struct{ with []any }

func (e *ended) Helper()           {}
func (e *ended) Fatal(args ...any) { e.with = append(e.with, args...) }

func TestGet(t *testing.T) {
	var e ended
	if v := Get[int](&e)(7, nil); v != 7 || len(e.with) > 0 {
		t.Errorf("%d, %v", v, e.with)
	}
	if Get[int](&e)(0, errors.New("a fault")); fmt.Sprint(e.with...) != "a fault" {
		t.Errorf("a fault ends it with %v", e.with)
	}
}
