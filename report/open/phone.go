package open

import (
	"errors"
	"fmt"
	"io/fs"
	"net"
	"net/http"

	"rsc.io/qr"
)

// phoneAccess is the way in for a phone.
type phoneAccess struct {
	address string // "" where there is none
	code    []byte // PNG
}

// phoneServer serves the phone's page to the home network: a page that takes a
// photo and sends it, and nothing else. Its key is another one than the working
// page's, and both die with the program.
func (s *server) phoneServer() (*http.Server, net.Listener, error) {
	ip := s.opt.home
	if ip == nil {
		var err error
		if ip, err = homeAddress(); err != nil {
			return nil, nil, err
		}
	}
	l, err := net.Listen("tcp4", net.JoinHostPort(ip.String(), "0"))
	if err != nil {
		return nil, nil, fmt.Errorf("the home network cannot be served: %w", err)
	}
	key, host := newKey(), l.Addr().String()
	s.phone.address = "http://" + host + "/" + key + "/"
	code, err := qr.Encode(s.phone.address, qr.M)
	if err != nil {
		l.Close()
		return nil, nil, err
	}
	s.phone.code = code.PNG()
	fmt.Fprintf(s.opt.Log, "greige: phones on your home network can send photos to %s\n  until this program ends; whoever has that address can send photos too, and see nothing\n", s.phone.address)
	files, err := fs.Sub(pageFiles, "page")
	if err != nil {
		panic(err) // it is in the program: this cannot fail for a user
	}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, r *http.Request) { serveFile(w, r, files, "phone.html") })
	for _, name := range []string{"phone.js", "open.css"} {
		mux.HandleFunc("GET /page/"+name, func(w http.ResponseWriter, r *http.Request) { serveFile(w, r, files, name) })
	}
	mux.HandleFunc("POST /photos", s.takePhoto)
	return serverOf(keep([]string{host}, key, mux)), l, nil
}

// homeAddress is this computer's address in a private network (RFC 1918): a
// computer that stands in the open internet serves no phone.
func homeAddress() (net.IP, error) {
	addresses, err := net.InterfaceAddrs()
	if err != nil {
		return nil, err
	}
	for _, a := range addresses {
		if n, ok := a.(*net.IPNet); ok && n.IP.To4() != nil && n.IP.IsPrivate() {
			return n.IP.To4(), nil
		}
	}
	return nil, errors.New("this computer is in no home network: leave out --phone, or join the network that the phone is in")
}
