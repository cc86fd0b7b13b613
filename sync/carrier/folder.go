package carrier

import (
	"context"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
)

// Folder carries into a folder of the file system. The folder itself is never
// made: where a memory stick was pulled out, its place may still be there, and
// what is put into it would be on this device.
type Folder struct{ Root string }

var _ Carrier = Folder{}

// Put writes beside the name, syncs, and gives the name to what is whole.
func (f Folder) Put(ctx context.Context, name string, data []byte) (err error) {
	if err := f.ready(ctx, "put", name); err != nil {
		return err
	}
	path := filepath.Join(f.Root, filepath.FromSlash(name))
	defer func() { err = f.fault("put", name, err) }()
	if _, err := os.Lstat(path); err == nil {
		return &Error{Code: CodeExists, Op: "put", Name: name}
	}
	dir := filepath.Dir(path)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	temp, err := os.CreateTemp(dir, part+"*")
	if err != nil {
		return err
	}
	defer func() {
		if err := os.Remove(temp.Name()); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return // half a file stays behind; no list shows it
		}
	}()
	if _, err = temp.Write(data); err == nil {
		err = temp.Sync()
	}
	if err := errors.Join(err, temp.Close()); err != nil {
		return err
	}
	// A link fails where the name is taken, which a rename does not. File
	// systems of memory sticks have none; there the look above must do, and
	// whoever was faster brought the same bytes.
	err = os.Link(temp.Name(), path)
	switch {
	case errors.Is(err, fs.ErrExist):
		return &Error{Code: CodeExists, Op: "put", Name: name}
	case err != nil:
		if err := os.Rename(temp.Name(), path); err != nil {
			return err
		}
	}
	return syncUp(f.Root, dir)
}

// syncUp puts the names on disk, from a folder up to the root. Some file
// systems cannot, and say so.
func syncUp(root, dir string) error {
	for {
		d, err := os.Open(dir)
		if err != nil {
			return err
		}
		err = d.Sync()
		if errors.Is(err, syscall.EINVAL) || errors.Is(err, syscall.ENOTSUP) {
			err = nil
		}
		if err := errors.Join(err, d.Close()); err != nil {
			return err
		}
		if dir == root || len(dir) <= len(root) {
			return nil
		}
		dir = filepath.Dir(dir)
	}
}

// Get reads a file.
func (f Folder) Get(ctx context.Context, name string, most int64) (data []byte, err error) {
	if err := f.ready(ctx, "get", name); err != nil {
		return nil, err
	}
	defer func() { err = f.fault("get", name, err) }()
	file, err := os.Open(filepath.Join(f.Root, filepath.FromSlash(name)))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, &Error{Code: CodeNotFound, Op: "get", Name: name}
	}
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	return readMost(file, "get", name, most)
}

// Stat looks at a file.
func (f Folder) Stat(ctx context.Context, name string) (Info, error) {
	if err := f.ready(ctx, "stat", name); err != nil {
		return Info{}, err
	}
	info, err := os.Stat(filepath.Join(f.Root, filepath.FromSlash(name)))
	if errors.Is(err, fs.ErrNotExist) {
		return Info{}, &Error{Code: CodeNotFound, Op: "stat", Name: name}
	}
	if err != nil {
		return Info{}, f.fault("stat", name, err)
	}
	return Info{name, info.Size()}, nil
}

// readMost reads to the end, and no more than was allowed.
func readMost(r io.Reader, op, name string, most int64) ([]byte, error) {
	data, err := io.ReadAll(io.LimitReader(r, most+1))
	if err == nil && int64(len(data)) > most {
		return nil, &Error{Code: CodeBroken, Op: op, Name: name, Err: errors.New("it is longer than it can be")}
	}
	return data, err
}

// List walks the files.
func (f Folder) List(ctx context.Context, yield func(Info) error) (err error) {
	if err := f.ready(ctx, "list", "a"); err != nil {
		return err
	}
	var stop error
	err = filepath.WalkDir(f.Root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || !d.Type().IsRegular() {
			return err
		}
		name, err := filepath.Rel(f.Root, path)
		if err != nil {
			return err
		}
		name = filepath.ToSlash(name)
		if checkName("list", name) == nil { // else it is none of ours
			info, err := d.Info()
			if err != nil {
				return err
			}
			stop = yield(Info{name, info.Size()})
		}
		return stop
	})
	if stop != nil {
		return stop
	}
	return f.fault("list", "", err)
}

// ready looks before each step: a stick may be pulled out at any moment.
func (f Folder) ready(ctx context.Context, op, name string) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if err := checkName(op, name); err != nil {
		return err
	}
	info, err := os.Stat(f.Root)
	if err != nil || !info.IsDir() {
		return &Error{Code: CodeMissing, Op: op, Name: name, Err: err}
	}
	return nil
}

func (f Folder) fault(op, name string, err error) error {
	var own *Error
	if err == nil || errors.As(err, &own) {
		return err
	}
	code := CodeBroken
	switch {
	case errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT):
		code = CodeFull
	case errors.Is(err, fs.ErrPermission) || errors.Is(err, syscall.EROFS):
		code = CodeRefused
	case strings.Contains(err.Error(), "name too long"):
		code = CodeName
	}
	return &Error{Code: code, Op: op, Name: name, Err: err}
}
