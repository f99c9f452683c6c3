# Read by cpack. A package says when its version was released, not when somebody built it, so that two builds give the
# same bytes; SOURCE_DATE_EPOCH says otherwise. With a new version comes a new date: date -u -d 2026-11-26 +%s
if(NOT DEFINED ENV{SOURCE_DATE_EPOCH})
  set(ENV{SOURCE_DATE_EPOCH} 1795651200)  # 2026-11-26
endif()
