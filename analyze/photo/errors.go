package photo

import (
	"errors"
	"fmt"
	"image/jpeg"
	"image/png"
	"io"
	"strconv"
	"strings"

	"golang.org/x/image/tiff"
)

// skip is an *Error that has no name yet.
func skip(reason, hint string) *Error { return &Error{Skipped{Reason: reason, Hint: hint}} }

func errEmpty() *Error { return skip("the file is empty", "copy the photo again") }

func errTooLong(size int64, lim Limits) *Error {
	return skip("the file has "+mebibytes(size)+" MiB and the limit is "+mebibytes(lim.Bytes), "save the photo smaller")
}

func errCut() *Error { return skip("the picture is cut short", "take or copy the photo again") }

func errDamaged() *Error { return skip("the picture is damaged", "take or copy the photo again") }

func errSizeless() *Error {
	return skip("the picture has no size", "take or copy the photo again")
}

// errKind is for a picture that is whole but of a kind that no decoder here
// reads; what is the kind in words.
func errKind(what string) *Error {
	return skip("this is "+what+", which is not read", "save the photo as an ordinary JPEG or PNG")
}

func errDecoder(err error) error {
	var own *Error
	var unsupportedJPEG jpeg.UnsupportedError
	var unsupportedPNG png.UnsupportedError
	var unsupportedTIFF tiff.UnsupportedError
	switch {
	case errors.As(err, &own):
		return own
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return errCut()
	case errors.As(err, &unsupportedJPEG):
		return errKind("a rare kind of JPEG (" + string(unsupportedJPEG) + ")")
	case errors.As(err, &unsupportedPNG):
		return errKind("a rare kind of PNG (" + string(unsupportedPNG) + ")")
	case errors.As(err, &unsupportedTIFF):
		return errKind("a rare kind of TIFF (" + string(unsupportedTIFF) + ")")
	case strings.Contains(err.Error(), "not enough"):
		// image/png and x/image/tiff for data that ends early.
		return errCut()
	}
	return errDamaged()
}

func mebibytes(n int64) string {
	if n%(1<<20) == 0 {
		return strconv.FormatInt(n>>20, 10)
	}
	return fmt.Sprintf("%.1f", float64(n)/(1<<20))
}
