# Writes OUT: a table of the text files INPUTS as C arrays, with their names less the extension and
# the first of their lines "title = ...".
set(body "/* Generated from text files of the source tree. */\n")
set(table "")
set(i 0)
foreach(f IN LISTS INPUTS)
  get_filename_component(stem ${f} NAME_WE)
  file(READ ${f} hex HEX)
  string(REGEX REPLACE "(..)" "0x\\1," bytes "${hex}")
  string(APPEND body "static const char ${SYMBOL}_${i}[] = {${bytes}0};\n")
  file(STRINGS ${f} title REGEX "^title = " LIMIT_COUNT 1)
  string(REGEX REPLACE "^title = " "" title "${title}")
  string(APPEND table "    {\"${stem}\", ${SYMBOL}_${i}, \"${title}\"},\n")
  math(EXPR i "${i} + 1")
endforeach()
string(APPEND body "static const struct {\n    const char *name, *text, *title;\n} ${SYMBOL}[] = {\n${table}};\n"
  "enum { ${SYMBOL}_count = ${i} };\n")
file(WRITE ${OUT} "${body}")
