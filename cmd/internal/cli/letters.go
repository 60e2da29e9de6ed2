package cli

import "strings"

// large is a text in letters of five lines, to be read past a shoulder, where
// they fit into so many columns; else as it is.
func large(text string, columns int) string {
	text = strings.ToUpper(text)
	var rows [5]strings.Builder
	for _, r := range text {
		g, known := letters[r]
		if !known {
			return text + "\n"
		}
		for i, part := range strings.Split(g, "/") {
			rows[i].WriteString(strings.ReplaceAll(part, "#", "█") + " ")
		}
	}
	var out strings.Builder
	for i := range rows {
		line := rows[i].String()
		if len([]rune(line)) > columns {
			return text + "\n"
		}
		out.WriteString(line + "\n")
	}
	return out.String()
}

// letters are drawn five lines high.
var letters = map[rune]string{
	' ': "  /  /  /  /  ", '+': "   / # /###/ # /   ", '-': "   /   /###/   /   ", '\u2212': "   /   /###/   /   ", '.': " / / / /#", ',': "  /  /  / #/# ", '/': "  #/  #/ # /#  /#  ",
	'0': "###/# #/# #/# #/###", '1': " # /## / # / # /###", '2': "###/  #/###/#  /###", '3': "###/  #/ ##/  #/###", '4': "# #/# #/###/  #/  #",
	'5': "###/#  /###/  #/###", '6': "###/#  /###/# #/###", '7': "###/  #/ # / # / # ", '8': "###/# #/###/# #/###", '9': "###/# #/###/  #/###",
	'A': " # /# #/###/# #/# #", 'B': "## /# #/## /# #/## ", 'C': " ##/#  /#  /#  / ##", 'D': "## /# #/# #/# #/## ", 'E': "###/#  /## /#  /###",
	'F': "###/#  /## /#  /#  ", 'G': " ##/#  /# #/# #/ ##", 'H': "# #/# #/###/# #/# #", 'I': "###/ # / # / # /###", 'J': "  #/  #/  #/# #/ # ",
	'K': "# #/# #/## /# #/# #", 'L': "#  /#  /#  /#  /###", 'M': "#   #/## ##/# # #/#   #/#   #", 'N': "#  #/## #/# ##/#  #/#  #", 'O': " # /# #/# #/# #/ # ",
	'P': "## /# #/## /#  /#  ", 'Q': " # /# #/# #/ # /  #", 'R': "## /# #/## /# #/# #", 'S': " ##/#  / # /  #/## ", 'T': "###/ # / # / # / # ",
	'U': "# #/# #/# #/# #/###", 'V': "# #/# #/# #/# #/ # ", 'W': "#   #/#   #/# # #/## ##/#   #", 'X': "# #/# #/ # /# #/# #", 'Y': "# #/# #/ # / # / # ", 'Z': "###/  #/ # /#  /###",
}
