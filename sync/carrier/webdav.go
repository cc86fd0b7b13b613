package carrier

import (
	"bytes"
	"context"
	"crypto/rand"
	"encoding/hex"
	"encoding/xml"
	"errors"
	"io"
	"net/http"
	"net/url"
	"path"
	"slices"
	"strings"
	"sync"
)

// WebDAV carries to a server of RFC 4918. An object is sent under another name
// and moved to its own when it is whole, with "Overwrite: F"; so a connection
// that is cut leaves nothing under the name.
type WebDAV struct {
	base   *url.URL
	client *http.Client
	secret Secret

	mu   sync.Mutex
	made map[string]bool // folders that are there
}

var _ Carrier = (*WebDAV)(nil)

// NewWebDAV makes a carrier. It does not connect yet.
func NewWebDAV(w Web) (*WebDAV, error) {
	u, client, err := w.open()
	if err != nil {
		return nil, err
	}
	u.Path = strings.TrimSuffix(u.Path, "/")
	return &WebDAV{base: u, client: client, secret: w.Secret, made: map[string]bool{}}, nil
}

// do sends a request. The answer's body is the caller's.
func (d *WebDAV) do(ctx context.Context, op, method, name string, body []byte, head map[string]string) (*http.Response, error) {
	u := *d.base
	u.Path = u.Path + "/" + name
	r, err := http.NewRequestWithContext(ctx, method, u.String(), bytes.NewReader(body))
	if err != nil {
		return nil, &Error{Code: CodeName, Op: op, Name: name, Err: err}
	}
	for k, v := range head {
		r.Header.Set(k, v)
	}
	if d.secret != (Secret{}) {
		r.SetBasicAuth(d.secret.User, d.secret.Password)
	}
	resp, err := d.client.Do(r)
	if err != nil {
		return nil, way(ctx, op, name, err)
	}
	return resp, nil
}

// simple sends a request of which only the status counts.
func (d *WebDAV) simple(ctx context.Context, op, method, name string, body []byte, head map[string]string) (int, error) {
	resp, err := d.do(ctx, op, method, name, body, head)
	if err != nil {
		return 0, err
	}
	drain(resp)
	return resp.StatusCode, nil
}

func failed(op, name string, status int) error {
	return &Error{Code: statusCode(status), Op: op, Name: name, Status: status}
}

// Put sends the object beside its name and moves it there.
func (d *WebDAV) Put(ctx context.Context, name string, data []byte) error {
	if err := checkName("put", name); err != nil {
		return err
	}
	// Looked for first: where only the answer was lost the last time, nothing
	// need be sent.
	status, err := d.simple(ctx, "put", http.MethodHead, name, nil, nil)
	switch {
	case err != nil:
		return err
	case status == http.StatusOK:
		return &Error{Code: CodeExists, Op: "put", Name: name, Status: status}
	case status != http.StatusNotFound:
		return failed("put", name, status)
	}
	if err := d.folders(ctx, path.Dir(name)); err != nil {
		return err
	}
	random := make([]byte, 8)
	if _, err := rand.Read(random); err != nil {
		return err
	}
	temp := path.Join(path.Dir(name), part+hex.EncodeToString(random))
	status, err = d.simple(ctx, "put", http.MethodPut, temp, data, map[string]string{"Content-Type": "application/octet-stream", "If-None-Match": "*"})
	if err == nil && status != http.StatusCreated && status != http.StatusNoContent {
		err = failed("put", name, status)
	}
	if err == nil {
		to := *d.base
		to.Path = to.Path + "/" + name
		status, err = d.simple(ctx, "put", "MOVE", temp, nil, map[string]string{"Destination": to.String(), "Overwrite": "F"})
		if err == nil && status == http.StatusCreated {
			return nil
		}
		if err == nil {
			err = failed("put", name, status)
		}
	}
	if CodeOf(err) == CodeMissing || CodeOf(err) == CodeNotFound {
		d.forget() // somebody removed the folders
		err = &Error{Code: CodeMissing, Op: "put", Name: name, Status: status}
	}
	// What is half there is ours alone, and no list shows it. Where it cannot
	// be taken away, it stays.
	if ctx.Err() == nil {
		_, _ = d.simple(ctx, "put", http.MethodDelete, temp, nil, nil)
	}
	return err
}

// folders makes the folders above an object, from the top. The base itself
// must be there.
func (d *WebDAV) folders(ctx context.Context, dir string) error {
	if dir == "." || d.has(dir) {
		return nil
	}
	if err := d.folders(ctx, path.Dir(dir)); err != nil {
		return err
	}
	status, err := d.simple(ctx, "put", "MKCOL", dir+"/", nil, nil)
	switch {
	case err != nil:
		return err
	case status == http.StatusNotFound || status == http.StatusConflict:
		return &Error{Code: CodeMissing, Op: "put", Name: dir, Status: status}
	case status != http.StatusCreated && status != http.StatusMethodNotAllowed: // 405: it is there
		// Where two make it at once, a server may refuse the second one with
		// another status, as Apache does with 403. What counts is that it is
		// there.
		_, folders, err := d.properties(ctx, "put", dir+"/", "0")
		if ctx.Err() != nil {
			return err
		}
		if err != nil || !slices.Contains(folders, dir) {
			return failed("put", dir, status)
		}
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	d.made[dir] = true
	return nil
}

func (d *WebDAV) has(dir string) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.made[dir]
}

func (d *WebDAV) forget() {
	d.mu.Lock()
	defer d.mu.Unlock()
	clear(d.made)
}

// Get reads an object.
func (d *WebDAV) Get(ctx context.Context, name string, most int64) (data []byte, err error) {
	if err := checkName("get", name); err != nil {
		return nil, err
	}
	resp, err := d.do(ctx, "get", http.MethodGet, name, nil, nil)
	if err != nil {
		return nil, err
	}
	defer drain(resp)
	if resp.StatusCode != http.StatusOK {
		return nil, failed("get", name, resp.StatusCode)
	}
	data, err = readMost(resp.Body, "get", name, most)
	if err != nil && CodeOf(err) == "" {
		return nil, way(ctx, "get", name, err)
	}
	return data, err
}

// Stat asks for the properties of an object: no login page answers with 207.
func (d *WebDAV) Stat(ctx context.Context, name string) (Info, error) {
	if err := checkName("stat", name); err != nil {
		return Info{}, err
	}
	objects, _, err := d.properties(ctx, "stat", name, "0")
	if err != nil {
		return Info{}, err
	}
	for _, o := range objects {
		if o.Name == name {
			return o, nil
		}
	}
	return Info{}, &Error{Code: CodeBroken, Op: "stat", Name: name}
}

// multistatus is the answer to PROPFIND (RFC 4918, section 14.16), as far as
// it is asked for.
type multistatus struct {
	XMLName   xml.Name `xml:"DAV: multistatus"`
	Responses []struct {
		Href  string `xml:"DAV: href"`
		Stats []struct {
			Status string `xml:"DAV: status"`
			Prop   struct {
				Length int64 `xml:"DAV: getcontentlength"`
				Type   struct {
					Collection *struct{} `xml:"DAV: collection"`
				} `xml:"DAV: resourcetype"`
			} `xml:"DAV: prop"`
		} `xml:"DAV: propstat"`
	} `xml:"DAV: response"`
}

const propfind = `<?xml version="1.0" encoding="utf-8"?><propfind xmlns="DAV:"><prop><resourcetype/><getcontentlength/></prop></propfind>`

// longestList bounds the answer about one folder: some 100,000 objects.
const longestList = 64 << 20

// readMultistatus gives what lies in a folder: objects and folders, as paths
// below the base.
func readMultistatus(r io.Reader, base string) (objects []Info, folders []string, err error) {
	var m multistatus
	if err := xml.NewDecoder(io.LimitReader(r, longestList)).Decode(&m); err != nil {
		return nil, nil, err
	}
	for _, one := range m.Responses {
		u, err := url.Parse(one.Href)
		if err != nil {
			return nil, nil, err
		}
		name, ok := strings.CutPrefix(u.Path, base+"/")
		if !ok {
			continue // the base itself, or none of ours
		}
		collection, size := false, int64(0)
		for _, s := range one.Stats {
			if strings.Contains(s.Status, " 200") {
				collection = collection || s.Prop.Type.Collection != nil
				size = max(size, s.Prop.Length)
			}
		}
		name = strings.TrimSuffix(name, "/")
		if checkName("list", name) != nil {
			continue
		}
		if collection {
			folders = append(folders, name)
		} else {
			objects = append(objects, Info{name, size})
		}
	}
	return objects, folders, nil
}

// List walks the folders from the base down.
func (d *WebDAV) List(ctx context.Context, yield func(Info) error) error {
	todo := []string{""}
	seen := map[string]bool{}
	for len(todo) > 0 {
		dir := todo[0]
		todo = todo[1:]
		if seen[dir] {
			continue // the folder is in its own list
		}
		seen[dir] = true
		objects, folders, err := d.listOne(ctx, dir)
		if err != nil {
			return err
		}
		for _, o := range objects {
			if err := yield(o); err != nil {
				return err
			}
		}
		todo = append(todo, folders...)
	}
	return nil
}

func (d *WebDAV) listOne(ctx context.Context, dir string) ([]Info, []string, error) {
	name := dir
	if name != "" {
		name += "/"
	}
	objects, folders, err := d.properties(ctx, "list", name, "1")
	if CodeOf(err) == CodeNotFound {
		err = &Error{Code: CodeMissing, Op: "list", Name: dir, Err: err}
	}
	return objects, folders, err
}

func (d *WebDAV) properties(ctx context.Context, op, name, depth string) ([]Info, []string, error) {
	resp, err := d.do(ctx, op, "PROPFIND", name, []byte(propfind), map[string]string{"Depth": depth, "Content-Type": "application/xml"})
	if err != nil {
		return nil, nil, err
	}
	defer drain(resp)
	if resp.StatusCode != http.StatusMultiStatus {
		return nil, nil, failed(op, name, resp.StatusCode)
	}
	objects, folders, err := readMultistatus(resp.Body, d.base.Path)
	if err != nil {
		if ctx.Err() != nil {
			return nil, nil, ctx.Err()
		}
		code := CodeBroken
		if errors.Is(err, io.ErrUnexpectedEOF) {
			code = CodeOffline
		}
		return nil, nil, &Error{Code: code, Op: op, Name: name, Err: err}
	}
	return objects, folders, nil
}
