package corpus

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
)

// A sealed file carries its own checksum: the metadata value of the key
// strikerose.sha256 is the SHA-256 of the whole file with the checksum's 64
// digits replaced by zeros. So a file and its checksum change in one rename,
// and a copied file can still be verified.
const (
	sealKey    = "sha256"
	sealPrefix = "seal:sha256:"
	sealDigits = 2 * sha256.Size
)

var (
	emptySeal    = sealPrefix + strings.Repeat("0", sealDigits)
	errUnsealed  = errors.New("holds no checksum")
	errBadDigest = errors.New("checksum differs")
	errMisplaced = errors.New("holds something else")
)

// verifySeal returns the checksum of a sealed file, or an error if the file is
// not what was sealed.
func verifySeal(file []byte) (digest string, err error) {
	at, err := sealAt(file)
	if err != nil {
		return "", err
	}
	stated := string(file[at : at+sealDigits])
	if found := sealOf(file, at); found != stated {
		return "", fmt.Errorf("%w: %.12s where %.12s was written", errBadDigest, found, stated)
	}
	return stated, nil
}

// sealAt finds the checksum's digits. The last occurrence counts: it lies in
// the footer, behind all data and statistics.
func sealAt(file []byte) (int, error) {
	at := bytes.LastIndex(file, []byte(sealPrefix))
	if at < 0 || at+len(emptySeal) > len(file) {
		return 0, errUnsealed
	}
	return at + len(sealPrefix), nil
}

func sealOf(file []byte, at int) string {
	h := sha256.New()
	h.Write(file[:at])
	h.Write([]byte(emptySeal[len(sealPrefix):]))
	h.Write(file[at+sealDigits:])
	return hex.EncodeToString(h.Sum(nil))
}
