package record

import (
	"bytes"
	"errors"
	"strings"
	"testing"
	"time"
)

func keyPage() *KeyPage {
	return &KeyPage{Title: "Recovery key", Lines: []string{strings.Repeat("What it is for. ", 12)}, Groups: []string{"ABCD", "EFGH", "0123", "4567", "89JK"},
		Squares: [][]bool{{true, false}, {false, true}}, Below: []string{"For a camera."}, Foot: "Made on a day"}
}

func TestKeyPage(t *testing.T) {
	paper := Paper{Made: time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)}
	var a, b bytes.Buffer
	for _, w := range []*bytes.Buffer{&a, &b} {
		if err := WriteKeyPage(w, keyPage(), paper); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(a.Bytes(), b.Bytes()) || !bytes.HasPrefix(a.Bytes(), []byte("%PDF-")) {
		t.Error("equal arguments give other bytes, or none of a PDF")
	}
	for _, tt := range []struct {
		change func(*KeyPage)
		want   error
	}{
		{func(k *KeyPage) { k.Groups = nil }, ErrKeyValue},
		{func(k *KeyPage) { k.Squares = [][]bool{{true}, {true}} }, ErrKeyValue},
		{func(k *KeyPage) { k.Squares = nil }, ErrKeyValue},
		{func(k *KeyPage) { k.Foot = "\U0001F511" }, ErrFormLetters},
		{func(k *KeyPage) { k.Lines = []string{strings.Repeat("Too much of it. ", 600)} }, ErrFormFull},
	} {
		k, w := keyPage(), new(bytes.Buffer)
		tt.change(k)
		if err := WriteKeyPage(w, k, paper); !errors.Is(err, tt.want) || w.Len() > 0 {
			t.Errorf("%v, %d bytes; want %v and none", err, w.Len(), tt.want)
		}
	}
	if err := WriteKeyPage(new(bytes.Buffer), keyPage(), Paper{}); !errors.Is(err, ErrNoDate) {
		t.Errorf("%v", err)
	}
}
