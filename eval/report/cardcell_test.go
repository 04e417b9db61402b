package report

import "testing"

// What a stranger called somebody stays a word in the card.
func TestMarkdownCell(t *testing.T) {
	for in, want := range map[string]string{
		"":                            "-",
		"anna, 打 2":                   "anna, 打 2",
		"a|b\n# c":                    `a\|b # c`,
		"<script>x</script>":          `\<script\>x\</script\>`,
		"[here](javascript:x) ![](y)": `\[here\](javascript:x) !\[\](y)`,
		"`a` \\| &lt; *b*":            "\\`a\\` \\\\\\| \\&lt; \\*b\\*",
		"a\x1b[31mb\u202ec":           `a \[31mb c`,
	} {
		if got := markdownCell(in); got != want {
			t.Errorf("%q is written as %q, want %q", in, got, want)
		}
	}
}
