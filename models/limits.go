package models

import "fmt"

// Limits of a detector file, so that one from anywhere is refused before it fills
// the memory. The largest that the families write, of forests grown on tens of
// thousands of strikes, stay within a quarter of each.
const (
	longestFile = 64 << 20
	mostValues  = 8_000_000 // numbers and words: up to 16 bytes of memory each, of 3 in the file
	mostLists   = 500_000   // of any values
	mostObjects = 100_000   // up to some hundred bytes of memory each, of 3 in the file
	deepest     = 32        // lists and objects within each other; a pair of nets has 8
)

// bounded holds the text of a detector file against the limits, without reading
// what it says: brackets and commas outside of words are counted.
func bounded(data []byte) error {
	values, lists, objects, depth := 0, 0, 0, 0
	word := false
	for i := 0; i < len(data); i++ {
		if word {
			switch data[i] {
			case '\\':
				i++
			case '"':
				word = false
			}
			continue
		}
		switch data[i] {
		case '"':
			word = true
		case ',':
			values++
		case '[':
			lists++
			depth++
		case '{':
			objects++
			depth++
		case ']', '}':
			depth--
		}
		what, most := "", 0
		switch {
		case values > mostValues:
			what, most = "values", mostValues
		case lists > mostLists:
			what, most = "lists", mostLists
		case objects > mostObjects:
			what, most = "objects", mostObjects
		case depth > deepest:
			what, most = "lists within each other", deepest
		default:
			continue
		}
		return fmt.Errorf("at byte %d more than %d %s: this is no detector file", i, most, what)
	}
	return nil
}
