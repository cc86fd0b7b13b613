package plain

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"

	"chinlift/core"
)

// FaultSource knows what wants mending or buying: a companion.
type FaultSource interface {
	// Faults lists it; the names of those who looked only where asked for.
	Faults(ctx context.Context, private bool) ([]core.Fault, error)
}

var _ FaultSource = (*core.Companion)(nil)

// ClinicNames lists the files that are of no case: for whoever repairs or buys.
func ClinicNames() []string { return []string{"faults.csv", "faults.jsonl"} }

var faultHeader = []string{"what", "list", "item", "name", "state", "answer", "stop", "at", "by", "version", "photo", "amount", "note"}

// WriteFaults makes one file of ClinicNames: a table as WriteCSV writes them, or
// a line of JSON for each fault and shortage.
func WriteFaults(w io.Writer, name string, faults []core.Fault) error {
	switch name {
	case "faults.csv":
		b := appendRow(nil, faultHeader)
		for _, f := range faults {
			row := []string{f.What, f.List, f.Item, f.Name, f.State, f.Answer, strconv.FormatBool(f.Stop), f.At, f.By, f.Version, strconv.FormatBool(f.Photo), f.Amount, f.Note}
			b = appendCells(b, row)
		}
		_, err := w.Write(b)
		return err
	case "faults.jsonl":
		e := json.NewEncoder(w)
		e.SetEscapeHTML(false)
		for _, f := range faults {
			if err := e.Encode(f); err != nil {
				return err
			}
		}
		return nil
	}
	return fmt.Errorf("%s: %w", name, ErrNoFile)
}

// ClinicNames lists the files that are of no case, where what is exported
// knows faults.
func (m Maker) ClinicNames() []string {
	if _, ok := m.Source.(FaultSource); !ok {
		return nil
	}
	return ClinicNames()
}

// ClinicFile makes one of them.
func (m Maker) ClinicFile(ctx context.Context, name string, private bool) (data []byte, mediaType string, err error) {
	src, ok := m.Source.(FaultSource)
	if !ok {
		return nil, "", fmt.Errorf("%s: %w", name, ErrNoFile)
	}
	faults, err := src.Faults(ctx, private)
	if err != nil {
		return nil, "", err
	}
	var b bytes.Buffer
	if err := WriteFaults(&b, name, faults); err != nil {
		return nil, "", err
	}
	if strings.HasSuffix(name, ".csv") {
		return b.Bytes(), "text/csv; charset=utf-8", nil
	}
	return b.Bytes(), "application/jsonl; charset=utf-8", nil
}
