# What is installed beside the program, and the Debian package: included by the top CMakeLists.txt.
#   cmake --install build --prefix DIR          cd build && cpack -G DEB
set(oxl_manual ${CMAKE_BINARY_DIR}/oxylag.1)
add_custom_command(OUTPUT ${oxl_manual}
  COMMAND ${CMAKE_COMMAND} -DPROGRAM=$<TARGET_FILE:oxylag> -DIN=${CMAKE_SOURCE_DIR}/docs/oxylag.1.in
    -DOUT=${oxl_manual} -DVERSION=${PROJECT_VERSION} -DDOCS=${CMAKE_INSTALL_FULL_DOCDIR}
    -P ${CMAKE_SOURCE_DIR}/src/app/manual.cmake
  DEPENDS oxylag ${CMAKE_SOURCE_DIR}/docs/oxylag.1.in ${CMAKE_SOURCE_DIR}/src/app/manual.cmake
  VERBATIM)
set(oxl_package ${CMAKE_SOURCE_DIR}/src/app/package)
configure_file(${oxl_package}/changelog.in ${CMAKE_BINARY_DIR}/changelog @ONLY)
configure_file(${oxl_package}/oxylag.metainfo.xml.in ${CMAKE_BINARY_DIR}/oxylag.metainfo.xml @ONLY)
# Compressed as Debian wants them, without a time, so that the same source gives the same bytes.
set(oxl_changelog ${CMAKE_BINARY_DIR}/changelog)
foreach(file oxl_manual oxl_changelog)
  add_custom_command(OUTPUT ${${file}}.gz COMMAND gzip -9nkf ${${file}} DEPENDS ${${file}} VERBATIM)
  list(APPEND oxl_compressed ${${file}}.gz)
endforeach()
add_custom_target(manual ALL DEPENDS ${oxl_compressed})

install(TARGETS oxylag RUNTIME DESTINATION ${CMAKE_INSTALL_BINDIR})
install(FILES ${oxl_manual}.gz DESTINATION ${CMAKE_INSTALL_MANDIR}/man1)
install(FILES ${oxl_changelog}.gz DESTINATION ${CMAKE_INSTALL_DOCDIR})
install(FILES ${oxl_package}/oxylag.desktop DESTINATION ${CMAKE_INSTALL_DATADIR}/applications)
install(FILES ${oxl_package}/oxylag.svg
  DESTINATION ${CMAKE_INSTALL_DATADIR}/icons/hicolor/scalable/apps)
install(FILES ${CMAKE_BINARY_DIR}/oxylag.metainfo.xml DESTINATION ${CMAKE_INSTALL_DATADIR}/metainfo)
install(FILES ${CMAKE_SOURCE_DIR}/src/app/completion/oxylag.bash
  DESTINATION ${CMAKE_INSTALL_DATADIR}/bash-completion/completions RENAME oxylag)
install(FILES ${CMAKE_SOURCE_DIR}/src/app/completion/_oxylag
  DESTINATION ${CMAKE_INSTALL_DATADIR}/zsh/vendor-completions)
install(DIRECTORY ${CMAKE_SOURCE_DIR}/docs/ DESTINATION ${CMAKE_INSTALL_DOCDIR}
  FILES_MATCHING PATTERN "*.md")
install(FILES ${CMAKE_SOURCE_DIR}/README.md OPTIONAL DESTINATION ${CMAKE_INSTALL_DOCDIR})
install(FILES ${CMAKE_SOURCE_DIR}/LICENSE DESTINATION ${CMAKE_INSTALL_DOCDIR} RENAME copyright)
# What the program reads may not lie among the documents (Debian Policy 12.3): there stands a link.
install(DIRECTORY ${CMAKE_SOURCE_DIR}/examples/ DESTINATION ${CMAKE_INSTALL_DATADIR}/oxylag/lessons
  FILES_MATCHING PATTERN "*.jsonl")
file(RELATIVE_PATH oxl_lessons ${CMAKE_INSTALL_FULL_DOCDIR}
  ${CMAKE_INSTALL_FULL_DATADIR}/oxylag/lessons)
file(CREATE_LINK ${oxl_lessons} ${CMAKE_BINARY_DIR}/examples SYMBOLIC)
install(FILES ${CMAKE_BINARY_DIR}/examples DESTINATION ${CMAKE_INSTALL_DOCDIR})
install(DIRECTORY ${CMAKE_SOURCE_DIR}/profiles DESTINATION ${CMAKE_INSTALL_DOCDIR}
  FILES_MATCHING PATTERN "*.ini")

# Without this the tests would have to be built before anything can be installed.
set(CMAKE_SKIP_INSTALL_ALL_DEPENDENCY ON)
set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_NAME oxylag)
set(CPACK_PACKAGE_VERSION ${PROJECT_VERSION})
set(CPACK_PACKAGE_CONTACT "the oxylag authors <oxylag@example.org>")
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_STRIP_FILES ON)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_SECTION science)
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS ON)
set(CPACK_DEBIAN_PACKAGE_SUGGESTS bash-completion)
set(CPACK_DEBIAN_PACKAGE_CONTROL_EXTRA ${oxl_package}/postinst)
set(CPACK_DEBIAN_PACKAGE_CONTROL_STRICT_PERMISSION ON)
set(CPACK_PACKAGE_DESCRIPTION_SUMMARY ${PROJECT_DESCRIPTION})
set(CPACK_DEBIAN_PACKAGE_DESCRIPTION
"It guides a technician through the test over a generic AT-command OBD-II
serial adapter, measures the delay between the oxygen sensors and the
stored oxygen with their intervals, and writes the page for the repair
order. It reads only. A serial adapter is opened by members of the group
dialout.")
include(CPack)
