// Package browsertest drives headless Chromium, found on the path, for the tests of
// the pages. It is behind the build tag browser, so that the other tests need nothing
// that is not in this repository. Without a browser those tests fail.
package browsertest
