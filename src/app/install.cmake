# What is installed beside the program, and the Debian package: included by the top CMakeLists.txt.
#   cmake --install build --prefix DIR          cd build && cpack -G DEB
set(oxl_manual ${CMAKE_BINARY_DIR}/oxylag.1)
add_custom_command(OUTPUT ${oxl_manual}
  COMMAND ${CMAKE_COMMAND} -DPROGRAM=$<TARGET_FILE:oxylag> -DIN=${CMAKE_SOURCE_DIR}/docs/oxylag.1.in
    -DOUT=${oxl_manual} -DVERSION=${PROJECT_VERSION} -DDOCS=${CMAKE_INSTALL_FULL_DOCDIR}
    -P ${CMAKE_SOURCE_DIR}/src/app/manual.cmake
  DEPENDS oxylag ${CMAKE_SOURCE_DIR}/docs/oxylag.1.in ${CMAKE_SOURCE_DIR}/src/app/manual.cmake
  VERBATIM)
add_custom_target(manual ALL DEPENDS ${oxl_manual})

install(TARGETS oxylag RUNTIME DESTINATION ${CMAKE_INSTALL_BINDIR})
install(FILES ${oxl_manual} DESTINATION ${CMAKE_INSTALL_MANDIR}/man1)
install(FILES ${CMAKE_SOURCE_DIR}/src/app/completion/oxylag.bash
  DESTINATION ${CMAKE_INSTALL_DATADIR}/bash-completion/completions RENAME oxylag)
install(FILES ${CMAKE_SOURCE_DIR}/src/app/completion/_oxylag
  DESTINATION ${CMAKE_INSTALL_DATADIR}/zsh/vendor-completions)
install(DIRECTORY ${CMAKE_SOURCE_DIR}/docs/ DESTINATION ${CMAKE_INSTALL_DOCDIR}
  FILES_MATCHING PATTERN "*.md")
install(FILES ${CMAKE_SOURCE_DIR}/README.md OPTIONAL DESTINATION ${CMAKE_INSTALL_DOCDIR})
install(FILES ${CMAKE_SOURCE_DIR}/LICENSE DESTINATION ${CMAKE_INSTALL_DOCDIR} RENAME copyright)
install(DIRECTORY ${CMAKE_SOURCE_DIR}/examples DESTINATION ${CMAKE_INSTALL_DOCDIR}
  FILES_MATCHING PATTERN "*.jsonl")
install(DIRECTORY ${CMAKE_SOURCE_DIR}/profiles DESTINATION ${CMAKE_INSTALL_DOCDIR}
  FILES_MATCHING PATTERN "*.ini")

# Without this the tests would have to be built before anything can be installed.
set(CMAKE_SKIP_INSTALL_ALL_DEPENDENCY ON)
set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_NAME oxylag)
set(CPACK_PACKAGE_VERSION ${PROJECT_VERSION})
set(CPACK_PACKAGE_CONTACT "the oxylag authors <oxylag@localhost>")
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_STRIP_FILES ON)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_SECTION science)
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS ON)
set(CPACK_DEBIAN_PACKAGE_SUGGESTS bash-completion)
set(CPACK_PACKAGE_DESCRIPTION_SUMMARY ${PROJECT_DESCRIPTION})
set(CPACK_DEBIAN_PACKAGE_DESCRIPTION
"It guides a technician through the test over a generic AT-command OBD-II serial adapter,
measures the delay between the oxygen sensors and the stored oxygen with their intervals,
and writes the page for the repair order. It reads only.")
include(CPack)
