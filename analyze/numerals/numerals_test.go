package numerals

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestNumerals(t *testing.T) {
	for n, words := range map[int]string{0: "no", 1: "one", 13: "thirteen", 20: "twenty", 21: "21", 100: "100", -1: "-1"} {
		assert.Equal(t, words, InWords(n))
	}
	for n, words := range map[int]string{0: "No", 7: "Seven", 20: "Twenty", 40: "Forty", 99: "Ninety-nine", 100: "100", -3: "-3"} {
		assert.Equal(t, words, First(n))
	}
	assert.Equal(t, []string{"no photos", "one photo", "two photos", "21 photos"}, []string{Some(0, "photo", "photos"), Some(1, "photo", "photos"), Some(2, "photo", "photos"), Some(21, "photo", "photos")})
	assert.Equal(t, "nineteen", Alike(19, 20)(19))
	assert.Equal(t, "19", Alike(19, 27)(19), "one beyond words: all in figures")
}
