package carrier

import (
	"bytes"
	"context"
	"errors"
	"net/http"
	"strings"

	"github.com/minio/minio-go/v7"
	"github.com/minio/minio-go/v7/pkg/credentials"
)

// S3 carries to a store that speaks the protocol of Amazon S3. Objects appear
// there whole or not at all; they are sent with "If-None-Match: *", so that
// none is overwritten. A store that does not know that header might overwrite
// what came in between the look and the sending; that would be the same bytes.
type S3 struct {
	core   minio.Core
	bucket string
	prefix string
}

var _ Carrier = (*S3)(nil)

// NewS3 makes a carrier for https://host/bucket/prefix, which is not connected
// to yet; the bucket must be there. region may be empty where the store has
// none.
func NewS3(w Web, region string) (*S3, error) {
	u, client, err := w.open()
	if err != nil {
		return nil, err
	}
	bucket, prefix, _ := strings.Cut(strings.Trim(u.Path, "/"), "/")
	if bucket == "" {
		return nil, errors.New("the address must name a bucket: https://host/bucket")
	}
	if region == "" {
		region = "us-east-1" // what stores without regions go by
	}
	core, err := minio.NewCore(u.Host, &minio.Options{
		Creds:        credentials.NewStaticV4(w.Secret.User, w.Secret.Password, ""),
		Secure:       u.Scheme == "https",
		Transport:    client.Transport,
		Region:       region,
		BucketLookup: minio.BucketLookupPath,
		MaxRetries:   1, // when to try again, others decide
	})
	if err != nil {
		return nil, err
	}
	if prefix != "" {
		prefix += "/"
	}
	return &S3{core: *core, bucket: bucket, prefix: prefix}, nil
}

// Put sends an object.
func (s *S3) Put(ctx context.Context, name string, data []byte) error {
	if err := checkName("put", name); err != nil {
		return err
	}
	if _, err := s.Stat(ctx, name); err == nil {
		return &Error{Code: CodeExists, Op: "put", Name: name}
	} else if CodeOf(err) != CodeNotFound {
		return err
	}
	o := minio.PutObjectOptions{ContentType: "application/octet-stream", DisableMultipart: true}
	o.SetMatchETagExcept("*")
	sent, err := s.core.Client.PutObject(ctx, s.bucket, s.prefix+name, bytes.NewReader(data), int64(len(data)), o)
	if err != nil {
		return s.fault(ctx, "put", name, err)
	}
	if sent.ETag == "" {
		return &Error{Code: CodeForeign, Op: "put", Name: name}
	}
	return nil
}

// Get reads an object.
func (s *S3) Get(ctx context.Context, name string, most int64) ([]byte, error) {
	if err := checkName("get", name); err != nil {
		return nil, err
	}
	r, info, _, err := s.core.GetObject(ctx, s.bucket, s.prefix+name, minio.GetObjectOptions{})
	if err != nil {
		return nil, s.fault(ctx, "get", name, err)
	}
	defer func() { _ = r.Close() }() // read to its end, or given up
	if info.ETag == "" {
		return nil, &Error{Code: CodeForeign, Op: "get", Name: name}
	}
	data, err := readMost(r, "get", name, most)
	if err != nil && CodeOf(err) == "" {
		return nil, s.fault(ctx, "get", name, err)
	}
	return data, err
}

// Stat asks for the head of an object; a store gives it an ETag.
func (s *S3) Stat(ctx context.Context, name string) (Info, error) {
	if err := checkName("stat", name); err != nil {
		return Info{}, err
	}
	info, err := s.core.StatObject(ctx, s.bucket, s.prefix+name, minio.StatObjectOptions{})
	if err != nil {
		return Info{}, s.fault(ctx, "stat", name, err)
	}
	if info.ETag == "" {
		return Info{}, &Error{Code: CodeForeign, Op: "stat", Name: name}
	}
	return Info{name, info.Size}, nil
}

// List walks the objects, a thousand an answer.
func (s *S3) List(ctx context.Context, yield func(Info) error) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	for o := range s.core.Client.ListObjects(ctx, s.bucket, minio.ListObjectsOptions{Prefix: s.prefix, Recursive: true}) {
		if o.Err != nil {
			err := s.fault(ctx, "list", "", o.Err)
			if CodeOf(err) == CodeNotFound {
				err = &Error{Code: CodeMissing, Op: "list", Err: o.Err}
			}
			return err
		}
		name := strings.TrimPrefix(o.Key, s.prefix)
		if checkName("list", name) != nil {
			continue
		}
		if err := yield(Info{name, o.Size}); err != nil {
			return err
		}
	}
	return ctx.Err()
}

// fault makes an error of what the library answers. A store says its mind in
// XML with a code; a status without one comes from somebody else, or from a
// HEAD, which has no body.
func (s *S3) fault(ctx context.Context, op, name string, err error) error {
	if ctx.Err() != nil {
		return ctx.Err()
	}
	var r minio.ErrorResponse
	if !errors.As(err, &r) || r.StatusCode == 0 && r.Code == "" {
		return &Error{Code: wayCode(err), Op: op, Name: name, Err: err}
	}
	e := &Error{Code: statusCode(r.StatusCode), Op: op, Name: name, Status: r.StatusCode, Err: err}
	switch r.Code {
	case "NoSuchBucket":
		e.Code = CodeMissing
	case "NoSuchKey":
		e.Code = CodeNotFound
	case "PreconditionFailed", "ConditionalRequestConflict":
		e.Code = CodeExists
	case "RequestTimeTooSkewed", "RequestExpired":
		e.Code = CodeClock
	case "EntityTooLarge":
		e.Code = CodeTooLarge
	case "QuotaExceeded", "XMinioStorageFull", "InsufficientStorage":
		e.Code = CodeFull
	case "SlowDown", "InternalError", "ServiceUnavailable", "RequestTimeout", "OperationAborted":
		e.Code = CodeBusy
	case "BadDigest", "IncompleteBody", "XAmzContentSHA256Mismatch", "InvalidDigest":
		e.Code = CodeOffline // it was changed or cut on the way
	}
	if r.StatusCode == http.StatusConflict && e.Code == CodeMissing && r.Code != "NoSuchBucket" {
		e.Code = CodeBusy
	}
	return e
}
