#include "ports.h"

#include <stdio.h>
#include <unistd.h>

#include "oxylag/link.h"

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
    info->usable = access(info->path, R_OK | W_OK) == 0;
}

size_t oxl_ports(struct oxl_port_info *out, size_t max)
{
    struct sp_port **list = NULL;
    size_t n = 0;
    if (sp_list_ports(&list) != SP_OK)
        return 0;
    for (; list[n]; n++)
        if (n < max)
            describe(list[n], &out[n]);
    sp_free_port_list(list);
    return n;
}
