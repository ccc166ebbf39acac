package photo

import (
	"encoding/binary"
	"math"
)

// directories reads the structure that TIFF and EXIF share (TIFF 6.0,
// section 2; CIPA DC-008, 4.6.2). It follows no chain of directories, so a
// loop in a file cannot hold it, and it takes no memory that its caller has
// not bounded.
type directories struct {
	in    *input
	order binary.ByteOrder
	first int64 // offset of the first directory
}

// directory is one list of fields.
type directory map[uint16]field

// field is one entry of a directory.
type field struct {
	typ   uint16
	count uint32
	value [4]byte // the value itself, or where it lies
}

// maxFields is more than any camera writes.
const maxFields = 1024

// openDirectories reads the eight bytes that such a structure begins with.
func openDirectories(in *input) (directories, bool) {
	head := in.bytes(0, 8)
	if head == nil {
		return directories{}, false
	}
	d := directories{in: in}
	switch string(head[:4]) {
	case "II*\x00":
		d.order = binary.LittleEndian
	case "MM\x00*":
		d.order = binary.BigEndian
	default:
		return directories{}, false
	}
	d.first = int64(d.order.Uint32(head[4:]))
	return d, true
}

// at reads the directory that begins at off. Fields that run past the file's
// end are left out; a directory of which nothing can be read gives false.
func (d directories) at(off int64) (directory, bool) {
	n := d.in.bytes(off, 2)
	if off < 8 || n == nil {
		return nil, false
	}
	count := min(int64(d.order.Uint16(n)), maxFields)
	count = min(count, (d.in.size-off-2)/12)
	raw := d.in.bytes(off+2, count*12)
	if raw == nil || count == 0 {
		return nil, false
	}
	dir := make(directory, count)
	for ; len(raw) >= 12; raw = raw[12:] {
		f := field{typ: d.order.Uint16(raw[2:]), count: d.order.Uint32(raw[4:]), value: [4]byte(raw[8:12])}
		tag := d.order.Uint16(raw)
		if _, twice := dir[tag]; !twice {
			dir[tag] = f
		}
	}
	return dir, true
}

// sizes of the field types 1 to 12 in bytes.
var fieldSizes = [13]int64{1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8}

// values are the raw bytes of a field's first values, at most most of them;
// nil when the file does not hold them.
func (d directories) values(f field, most int64) []byte {
	if int(f.typ) >= len(fieldSizes) || fieldSizes[f.typ] == 0 {
		return nil
	}
	size := fieldSizes[f.typ]
	n := size * min(int64(f.count), most)
	if size*int64(f.count) <= 4 {
		return f.value[:n]
	}
	return d.in.bytes(int64(d.order.Uint32(f.value[:])), n)
}

// wholes are the first values, at most most of them, of a field of whole
// numbers.
func (d directories) wholes(f field, most int64) []int64 {
	raw := d.values(f, most)
	var out []int64
	switch f.typ {
	case 1, 7:
		for _, b := range raw {
			out = append(out, int64(b))
		}
	case 3:
		for ; len(raw) >= 2; raw = raw[2:] {
			out = append(out, int64(d.order.Uint16(raw)))
		}
	case 4:
		for ; len(raw) >= 4; raw = raw[4:] {
			out = append(out, int64(d.order.Uint32(raw)))
		}
	}
	return out
}

func (d directories) whole(dir directory, tag uint16) (int64, bool) {
	v := d.wholes(dir[tag], 1)
	if len(v) == 0 {
		return 0, false
	}
	return v[0], true
}

// ratio is a field's first fraction (RATIONAL or SRATIONAL); false also for
// the fractions that mean "unknown" or "infinite".
func (d directories) ratio(dir directory, tag uint16) (float64, bool) {
	f := dir[tag]
	raw := d.values(f, 1)
	if len(raw) < 8 {
		return 0, false
	}
	n, m := d.order.Uint32(raw), d.order.Uint32(raw[4:])
	if m == 0 || n == math.MaxUint32 && (f.typ == 5 || tag == tagBrightnessValue) {
		return 0, false
	}
	switch f.typ {
	case 5:
		return float64(n) / float64(m), true
	case 10:
		return float64(int32(n)) / float64(int32(m)), true
	}
	return 0, false
}

// text is a field of ASCII, without what a screen should not be given.
func (d directories) text(dir directory, tag uint16) string {
	f := dir[tag]
	if f.typ != 2 {
		return ""
	}
	return cleanText(string(d.values(f, 256)), 80)
}
