package photo

import (
	"bytes"
	"encoding/binary"
)

// kind is what a file holds, told by its first bytes and never by its name.
type kind struct {
	format string                        // "JPEG" and so on; "" when it is not read
	scan   func(*input) (*header, error) // nil when it is not read
	reason *Error                        // why not
}

// kindSniff is how many bytes kindOf looks at.
const kindSniff = 64

// magics are the first bytes of files that lie beside photos and that a
// person should hear of by name. Sources: the formats' own specifications.
var magics = []struct {
	offset int
	bytes  string
	what   string
}{
	{0, "BM", "a BMP picture"},
	{0, "GIF8", "a GIF picture"},
	{0, "8BPS", "a layered picture (PSD)"},
	{0, "\xff\x0a", "a JPEG XL picture"},
	{0, "\x00\x00\x00\x0cJXL ", "a JPEG XL picture"},
	{0, "\x00\x00\x00\x0cjP  ", "a JPEG 2000 picture"},
	{0, "II+\x00", "a very large TIFF (BigTIFF)"},
	{0, "MM\x00+", "a very large TIFF (BigTIFF)"},
	{0, "FUJIFILM", "a camera's raw file"},
	{0, "IIRO", "a camera's raw file"},
	{0, "IIRS", "a camera's raw file"},
	{0, "IIU\x00", "a camera's raw file"},
	{0, "%PDF", "a PDF document"},
}

func kindOf(head []byte) kind {
	has := func(off int, s string) bool {
		return len(head) >= off+len(s) && string(head[off:off+len(s)]) == s
	}
	switch {
	case has(0, "\xff\xd8\xff"):
		return kind{format: "JPEG", scan: scanJPEG}
	case has(0, pngSignature):
		return kind{format: "PNG", scan: scanPNG}
	case has(0, "RIFF") && has(8, "WEBP"):
		return kind{format: "WebP", scan: scanWebP}
	case has(0, "II*\x00") && has(8, "CR"):
		return kind{reason: errKind("a camera's raw file")}
	case has(0, "II*\x00"), has(0, "MM\x00*"):
		return kind{format: "TIFF", scan: scanTIFF}
	case has(4, "ftyp"):
		return kindOfBoxes(head)
	}
	for _, m := range magics {
		if has(m.offset, m.bytes) {
			return kind{reason: errKind(m.what)}
		}
	}
	return kind{reason: skip("this is no picture", "give photos: JPEG, PNG, TIFF, WebP or HEIC files")}
}

// kindOfBoxes tells files of the ISO base media format (ISO/IEC 14496-12)
// apart by their brands: HEIC, AVIF, camera raw and films.
func kindOfBoxes(head []byte) kind {
	n := min(int(binary.BigEndian.Uint32(head)), len(head))
	var brands []string
	for i := 8; i+4 <= n; i += 4 {
		if i != 12 { // the minor version
			brands = append(brands, string(head[i:i+4]))
		}
	}
	film := true
	for _, b := range brands {
		switch b {
		case "heic", "heix", "heim", "heis":
			return kind{format: "HEIC", scan: scanHEIC}
		case "avif", "avis":
			return kind{reason: errKind("an AVIF picture")}
		case "crx ":
			return kind{reason: errKind("a camera's raw file")}
		case "mif1", "msf1", "miaf":
			film = false
		}
	}
	if !film {
		// Nothing but the item's own type tells what a bare "mif1" holds.
		return kind{format: "HEIC", scan: scanHEIC}
	}
	return kind{reason: skip("this is a film or a sound, no photo", "give a photo, or a still saved from the film")}
}

func sniff(in *input) kind {
	if in.size == 0 {
		return kind{reason: errEmpty()}
	}
	head := in.bytes(0, min(kindSniff, in.size))
	if head == nil {
		return kind{reason: errCut()}
	}
	if len(bytes.Trim(head, "\x00")) == 0 {
		// What a card or a cloud leaves when a copy fails.
		return kind{reason: skip("the file holds nothing but zeros", "copy the photo again")}
	}
	return kindOf(head)
}
