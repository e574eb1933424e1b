#include "oxylag/profile.h"

#include "profile_files.h"

size_t oxl_profile_builtin_count(void)
{
    return oxl_profile_files_count;
}

const char *oxl_profile_builtin_name(size_t i)
{
    return oxl_profile_files[i].name;
}

const char *oxl_profile_builtin_text(size_t i)
{
    return oxl_profile_files[i].text;
}

/* The slow link rules everything else. Of the sensors, an unknown front is taken as switching,
 * whose allowances are the wider ones. An engine without an air meter breathes by manifold
 * pressure, whether or not its PIDs say so. */
const char *oxl_profile_choose(enum oxl_front_want front, enum oxl_air_want air,
                               enum oxl_link_want link)
{
    if (link == OXL_LINK_KLINE)
        return "kline";
    if (front != OXL_WANT_WIDE)
        return "switching-maf";
    if (air == OXL_AIR_SPEED_DENSITY || air == OXL_AIR_NONE)
        return "wide-speed-density";
    return "wide-maf";
}
