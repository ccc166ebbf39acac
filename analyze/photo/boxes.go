package photo

import "encoding/binary"

// box is a piece of a file of the ISO base media format (ISO/IEC 14496-12,
// 4.2): four letters and a body.
type box struct {
	typ  string
	body []byte
}

// boxes splits b into the boxes that it consists of, at most manyBoxes of them.
// What is broken ends the list.
func boxes(b []byte) []box {
	var list []box
	for len(b) >= 8 && len(list) < manyBoxes {
		size, head, ok := boxHeader(b, int64(len(b)))
		if !ok || size < head || size > int64(len(b)) {
			return list
		}
		list = append(list, box{string(b[4:8]), b[head:size]})
		b = b[size:]
	}
	return list
}

// boxHeader reads how long a box is, and its header, off the bytes that it begins
// with; rest is how many there are to the end. Not ok where they are too few.
func boxHeader(b []byte, rest int64) (size, head int64, ok bool) {
	switch size = int64(binary.BigEndian.Uint32(b)); size {
	case 0:
		return rest, 8, true
	case 1:
		if len(b) < 16 {
			return 0, 0, false
		}
		return int64(binary.BigEndian.Uint64(b[8:])), 16, true
	}
	return size, 8, true
}

// cursor reads numbers off the front of a box's body; after the end it gives
// zeros and remembers that it did.
type cursor struct {
	b    []byte
	past bool
}

func (c *cursor) number(bytes int) int64 {
	if bytes > len(c.b) {
		c.b, c.past = nil, true
		return 0
	}
	var v uint64
	for _, x := range c.b[:bytes] {
		v = v<<8 | uint64(x)
	}
	c.b = c.b[bytes:]
	return int64(v)
}

// full reads the version and flags of a full box.
func (c *cursor) full() (version, flags int64) {
	v := c.number(4)
	return v >> 24, v & 0xffffff
}

// id reads an item's number, of two bytes or of four.
func (c *cursor) id(long bool) int64 {
	if long {
		return c.number(4)
	}
	return c.number(2)
}

// container is the part of a HEIF file that tells what is in it (ISO/IEC
// 23008-12, clause 6, and 14496-12, clause 8.11).
type container struct {
	primary    int64
	items      map[int64]string  // type of each item
	places     map[int64][]place // where each item's data lie
	properties []box             // in their order, counted from 1
	of         map[int64][]int   // the properties of each item
	from       map[int64][]int64 // what a derived item is made of ("dimg")
	describes  map[int64]int64   // "cdsc": which item a record belongs to
	data       []byte            // the body of "idat"
}

// place is a run of bytes of an item: in the file, or in "idat".
type place struct {
	off, size int64
	inside    bool
}

// Bounds on what a container may hold: more than any camera writes.
const (
	manyBoxes = 1 << 14
	manyItems = 1 << 14
	manyMeta  = 8 << 20
)

func readContainer(in *input) (*container, error) {
	meta, err := findMeta(in)
	if err != nil {
		return nil, err
	}
	c := &container{items: map[int64]string{}, places: map[int64][]place{}, of: map[int64][]int{},
		from: map[int64][]int64{}, describes: map[int64]int64{}}
	for _, b := range boxes(meta) {
		switch b.typ {
		case "pitm":
			r := cursor{b: b.body}
			v, _ := r.full()
			c.primary = r.id(v > 0)
		case "iinf":
			c.readItems(b.body)
		case "iloc":
			c.readPlaces(b.body)
		case "iref":
			c.readReferences(b.body)
		case "iprp":
			c.readProperties(b.body)
		case "idat":
			c.data = b.body
		}
	}
	return c, nil
}

// findMeta reads the body of the file's "meta" box.
func findMeta(in *input) ([]byte, error) {
	off := int64(0)
	for range manyBoxes {
		head := in.bytes(off, min(16, in.size-off))
		if len(head) < 8 {
			return nil, errCut()
		}
		size, skip, ok := boxHeader(head, in.size-off)
		if !ok {
			return nil, errCut()
		}
		if size < skip {
			return nil, errDamaged()
		}
		if string(head[4:8]) == "meta" {
			if size > manyMeta || size < skip+4 {
				return nil, errDamaged()
			}
			body := in.bytes(off+skip+4, size-skip-4) // it is a full box
			if body == nil {
				return nil, errCut()
			}
			return body, nil
		}
		off += size
		if off >= in.size {
			return nil, errCut()
		}
	}
	return nil, errDamaged()
}

func (c *container) readItems(body []byte) {
	r := cursor{b: body}
	v, _ := r.full()
	r.id(v > 0) // how many
	for _, b := range boxes(r.b) {
		if b.typ != "infe" {
			continue
		}
		e := cursor{b: b.body}
		v, _ := e.full()
		if v < 2 {
			continue
		}
		id := e.id(v > 2)
		e.number(2)
		if t := e.number(4); !e.past {
			c.items[id] = string(binary.BigEndian.AppendUint32(nil, uint32(t)))
		}
	}
}

func (c *container) readPlaces(body []byte) {
	r := cursor{b: body}
	v, _ := r.full()
	sizes := r.number(2)
	offBytes, lenBytes, baseBytes, indexBytes := int(sizes>>12), int(sizes>>8&15), int(sizes>>4&15), int(sizes&15)
	if v == 0 {
		indexBytes = 0
	}
	total := 0
	for range min(r.id(v > 1), manyItems) {
		id := r.id(v > 1)
		method := int64(0)
		if v > 0 {
			method = r.number(2) & 15
		}
		r.number(2) // another file
		base := r.number(baseBytes)
		var list []place
		for range min(r.number(2), manyItems) {
			r.number(indexBytes)
			p := place{off: base + r.number(offBytes), inside: method == 1}
			p.size = r.number(lenBytes)
			// Places may be written with no bytes at all: count them.
			if total++; r.past || total > manyItems {
				return
			}
			list = append(list, p)
		}
		if method <= 1 && !r.past {
			c.places[id] = list
		}
	}
}

func (c *container) readReferences(body []byte) {
	r := cursor{b: body}
	v, _ := r.full()
	for _, b := range boxes(r.b) {
		e := cursor{b: b.body}
		id := e.id(v > 0)
		var to []int64
		for range e.number(2) {
			if t := e.id(v > 0); !e.past {
				to = append(to, t)
			}
		}
		switch {
		case b.typ == "dimg":
			c.from[id] = to
		case b.typ == "cdsc" && len(to) > 0:
			c.describes[id] = to[0]
		}
	}
}

func (c *container) readProperties(body []byte) {
	for _, b := range boxes(body) {
		switch b.typ {
		case "ipco":
			c.properties = boxes(b.body)
		case "ipma":
			if !c.readAssociations(b.body) {
				return
			}
		}
	}
}

// readAssociations reads which properties each item has, as far as they are whole;
// it tells whether all are.
func (c *container) readAssociations(body []byte) (whole bool) {
	r := cursor{b: body}
	v, flags := r.full()
	for range min(r.number(4), manyItems) {
		id := r.id(v > 0)
		for range r.number(1) {
			size, mask := 1, int64(0x7f) // the first bit says that the property is essential
			if flags&1 == 1 {
				size, mask = 2, 0x7fff
			}
			if i := r.number(size) & mask; !r.past && i > 0 {
				c.of[id] = append(c.of[id], int(i)-1)
			}
		}
		if r.past {
			return false
		}
	}
	return true
}

func (c *container) propertiesOf(id int64) []box {
	var list []box
	for _, i := range c.of[id] {
		if i < len(c.properties) {
			list = append(list, c.properties[i])
		}
	}
	return list
}

// property is an item's first property of a type, or nil.
func (c *container) property(id int64, typ string) []byte {
	for _, b := range c.propertiesOf(id) {
		if b.typ == typ {
			return b.body
		}
	}
	return nil
}

// bytesOf are the data of an item, at most most bytes; nil when they are not
// all there.
func (c *container) bytesOf(in *input, id, most int64) []byte {
	var out []byte
	for _, p := range c.places[id] {
		var b []byte
		switch {
		case p.size < 0 || p.size > most-int64(len(out)):
			return nil
		case p.inside:
			if p.off < 0 || p.off > int64(len(c.data)) || p.size > int64(len(c.data))-p.off {
				return nil
			}
			b = c.data[p.off : p.off+p.size]
		default:
			n := p.size
			if n == 0 { // to the end of the file
				n = min(in.size-p.off, most-int64(len(out)))
			}
			b = in.bytes(p.off, n)
		}
		if b == nil {
			return nil
		}
		out = append(out, b...)
	}
	return out
}

// sizeOf is the size that an item's "ispe" gives.
func (c *container) sizeOf(id int64) (w, h int, ok bool) {
	r := cursor{b: c.property(id, "ispe")}
	r.full()
	w, h = int(r.number(4)), int(r.number(4))
	return w, h, !r.past && w > 0 && h > 0
}
