# bash completion for springwright: the program itself knows its words, and the workshop's files.
_springwright() {
  local words=() line
  while IFS= read -r line; do words+=("$line"); done < <("${COMP_WORDS[0]}" complete -- "${COMP_WORDS[@]:1:COMP_CWORD}" 2>/dev/null)
  COMPREPLY=("${words[@]}")
  [[ ${#COMPREPLY[@]} -eq 1 && ${COMPREPLY[0]} == */ ]] && compopt -o nospace
  return 0
} && complete -o bashdefault -o default -F _springwright springwright
