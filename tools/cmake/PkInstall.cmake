# What an installation holds. Programs find the rest beside their own folder (engine/files/places.cpp), so that a prefix may
# be moved; what belongs to a learner lies in the XDG folders and never here.
include(GNUInstallDirs)
set(share ${CMAKE_INSTALL_DATADIR})
set(desktop ${CMAKE_SOURCE_DIR}/assets/desktop)

install(TARGETS planekeeper pk RUNTIME DESTINATION ${CMAKE_INSTALL_BINDIR})
install(DIRECTORY scenarios DESTINATION ${share}/planekeeper)
install(DIRECTORY assets DESTINATION ${share}/planekeeper
  REGEX "assets/(guide|desktop|man|languages)$" EXCLUDE)
install(DIRECTORY ${CMAKE_BINARY_DIR}/share/locale DESTINATION ${share})
install(FILES ${desktop}/planekeeper.desktop DESTINATION ${share}/applications)
install(FILES ${desktop}/org.example.planekeeper.metainfo.xml DESTINATION ${share}/metainfo)
install(FILES ${desktop}/planekeeper.svg DESTINATION ${share}/icons/hicolor/scalable/apps)
foreach(size 16 32 48 128 256)
  install(FILES ${desktop}/planekeeper-${size}.png DESTINATION ${share}/icons/hicolor/${size}x${size}/apps
    RENAME planekeeper.png)
endforeach()
install(FILES ${desktop}/copyright README.md DESTINATION ${share}/doc/planekeeper)
foreach(page planekeeper.1 pk.1)
  file(READ assets/man/${page} text)
  string(REPLACE "@VERSION@" "${PROJECT_VERSION}" text "${text}")
  file(CONFIGURE OUTPUT ${CMAKE_BINARY_DIR}/man/${page} CONTENT "${text}" @ONLY)
  set_property(DIRECTORY APPEND PROPERTY CMAKE_CONFIGURE_DEPENDS ${CMAKE_SOURCE_DIR}/assets/man/${page})
  # -n: the same bytes whenever it is made
  add_custom_command(OUTPUT ${CMAKE_BINARY_DIR}/man/${page}.gz
    COMMAND gzip -9nkf ${page} WORKING_DIRECTORY ${CMAKE_BINARY_DIR}/man DEPENDS ${CMAKE_BINARY_DIR}/man/${page} VERBATIM)
  list(APPEND man_pages ${CMAKE_BINARY_DIR}/man/${page}.gz)
endforeach()
add_custom_target(man_pages ALL DEPENDS ${man_pages})
install(FILES ${man_pages} DESTINATION ${CMAKE_INSTALL_MANDIR}/man1)

# the package for Debian 12: tools/package
set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_NAME planekeeper)
set(CPACK_PACKAGE_CONTACT "Planekeeper developers <developers@planekeeper.example.org>")
set(CPACK_PACKAGE_DESCRIPTION_SUMMARY "trainer for placing barbed lifting threads in the lower face and neck")
set(CPACK_PACKAGE_DESCRIPTION "A training simulator for placing absorbable barbed lifting threads: an entry on a
three-dimensional head built in layers, a cannula through the superficial fat,
the thread set, and the whole visit around it, scored in millimetres and newtons.

Training aid: not a medical device and not a plan for a real patient. A good
score is not permission to treat.")
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_STRIP_FILES ON)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_SECTION education)
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS ON)
set(CPACK_DEBIAN_PACKAGE_CONTROL_STRICT_PERMISSION ON)
# fonts are read by path, and SDL opens OpenGL when the window is made: no linker sees these
set(CPACK_DEBIAN_PACKAGE_DEPENDS "fonts-noto-core, libegl1, libgl1, libgl1-mesa-dri")
include(CPack)
