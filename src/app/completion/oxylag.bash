# Completion of oxylag for bash. It asks the program for its commands and options, so that it
# always fits the program that is installed. shellcheck shell=bash
_oxylag_commands() {
  oxylag --help 2>/dev/null | sed -n 's/^  \([a-z][a-z]*\)  .*/\1/p' | grep -v '^oxylag$'
}

_oxylag_options() { # COMMAND
  oxylag "$1" --help 2>/dev/null | sed -n 's/^  \(\(-.\),\|   \) *\(--[^ ]*\).*/\2 \3/p'
}

# The value of an option as its help has it: "auto|light|dark|mono", "FILE", nothing for a flag.
_oxylag_value() { # COMMAND OPTION
  oxylag "$1" --help 2>/dev/null | sed -n "s/^  \(-.,\|   \) *$2 \([^ ][^ ]*\) .*/\2/p"
}

_oxylag() {
  local cur=${COMP_WORDS[COMP_CWORD]} prev=${COMP_WORDS[COMP_CWORD - 1]}
  local command=${COMP_WORDS[1]:-} value
  COMPREPLY=()
  if [ "$COMP_CWORD" = 1 ]; then
    mapfile -t COMPREPLY < <(compgen -W "$(_oxylag_commands) --help --version" -- "$cur")
    return
  fi
  case $prev in
  --scenario | -s)
    mapfile -t COMPREPLY < <(compgen -W "$(oxylag scenarios 2>/dev/null | cut -d' ' -f1)" -- "$cur")
    return
    ;;
  --profile | -P)
    mapfile -t COMPREPLY < <(compgen -f -W "$(oxylag profiles 2>/dev/null | cut -d' ' -f1)" -- "$cur")
    return
    ;;
  --port | -p)
    mapfile -t COMPREPLY < <(compgen -f -W "$(oxylag ports 2>/dev/null | grep -o '^/[^ ]*')" -- "$cur")
    return
    ;;
  --*)
    value=$(_oxylag_value "$command" "$prev")
    case $value in
    *\|*)
      mapfile -t COMPREPLY < <(compgen -W "${value//|/ }" -- "$cur")
      return
      ;;
    FILE | WHERE)
      mapfile -t COMPREPLY < <(compgen -f -- "$cur")
      return
      ;;
    ?*) return ;;
    esac
    ;;
  esac
  if [ "$command" = help ]; then
    mapfile -t COMPREPLY < <(compgen -W "$(_oxylag_commands)" -- "$cur")
    return
  fi
  case $cur in
  -*) mapfile -t COMPREPLY < <(compgen -W "$(_oxylag_options "$command")" -- "$cur") ;;
  *)
    if [ "$command" = profiles ]; then
      mapfile -t COMPREPLY < <(compgen -W "$(oxylag profiles 2>/dev/null | cut -d' ' -f1)" -- "$cur")
    else
      mapfile -t COMPREPLY < <(compgen -f -- "$cur")
    fi
    ;;
  esac
}
complete -o filenames -F _oxylag oxylag
