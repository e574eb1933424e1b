#include "ports.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "oxylag/link.h"
#include "oxylag/safe.h"

static void printable(char *text)
{
    for (char *c = text; *c; c++)
        if ((unsigned char)*c < 0x20 || (unsigned char)*c >= 0x7f)
            *c = '?';
}

void oxl_port_words(enum sp_transport transport, int vendor, int product, const char *name,
                    char *out, size_t n)
{
    const char *kind = transport == SP_TRANSPORT_USB         ? "USB serial adapter"
                       : transport == SP_TRANSPORT_BLUETOOTH ? "wireless serial adapter (Bluetooth)"
                                                             : "built-in serial port";
    char ids[64] = "", own[96] = "";
    if (vendor >= 0 && product >= 0)
        snprintf(ids, sizeof ids, ", vendor %04x product %04x", (unsigned)vendor,
                 (unsigned)product);
    if (name && name[0])
        snprintf(own, sizeof own, ", calls itself \"%s\"", name);
    snprintf(out, n, "%s%s%s", kind, ids, own);
    printable(out);
}

static void describe(const struct sp_port *port, struct oxl_port_info *info)
{
    enum sp_transport transport = sp_get_port_transport(port);
    const char *name = NULL;
    int vendor = -1, product = -1;
    if (transport == SP_TRANSPORT_USB) {
        if (sp_get_port_usb_vid_pid(port, &vendor, &product) != SP_OK)
            vendor = product = -1;
        name = sp_get_port_usb_product(port);
    }
    snprintf(info->path, sizeof info->path, "%s", sp_get_port_name(port));
    oxl_port_words(transport, vendor, product, name, info->words, sizeof info->words);
    info->built_in = transport != SP_TRANSPORT_USB && transport != SP_TRANSPORT_BLUETOOTH;
    info->usable = access(info->path, R_OK | W_OK) == 0;
}

enum oxl_status oxl_ports(struct oxl_port_info *out, size_t max, size_t *n, struct oxl_error *err)
{
    struct sp_port **list = NULL;
    *n = 0;
    if (sp_list_ports(&list) != SP_OK)
        return oxl_fail(err, OXL_ERR_USAGE,
                        "this system does not list its serial ports: name the adapter's, such as "
                        "--port /dev/ttyUSB0");
    for (; list[*n]; ++*n)
        if (*n < max)
            describe(list[*n], &out[*n]);
    sp_free_port_list(list);
    return OXL_OK;
}

/* The paths of those that are built in, or that are not: "/dev/a, /dev/b", cut with "..". */
static size_t list_paths(const struct oxl_port_info *list, size_t n, bool built_in, char *out,
                         size_t room)
{
    size_t count = 0;
    out[0] = '\0';
    for (size_t i = 0; i < n; i++) {
        if (list[i].built_in != built_in)
            continue;
        const size_t len = strlen(out);
        if (len + strlen(list[i].path) + 5 < room)
            oxl_append_word(out, room, ", ", list[i].path);
        else if (len + 5 < room && len > 2 && out[len - 1] != '.')
            oxl_append(out, room, ", ..");
        count++;
    }
    return count;
}

enum oxl_status oxl_port_choose(const struct oxl_port_info *list, size_t n, size_t *which,
                                struct oxl_error *err)
{
    char plugged[160], own[160];
    size_t count = list_paths(list, n, false, plugged, sizeof plugged);
    for (size_t i = 0; i < n && count == 1; i++)
        if (!list[i].built_in) {
            *which = i;
            return OXL_OK;
        }
    if (count > 1)
        return oxl_fail(err, OXL_ERR_USAGE,
                        "there are %zu ports (%s): pick one with --port (see: oxylag ports)", count,
                        plugged);
    if (list_paths(list, n, true, own, sizeof own) > 0)
        return oxl_fail(err, OXL_ERR_USAGE,
                        "no adapter is plugged in; of built-in ports there is %s: plug the adapter "
                        "in, or name that port with --port if it is there",
                        own);
    return oxl_fail(err, OXL_ERR_USAGE,
                    "no serial port found: plug the adapter in, or give --port");
}
