/* The bare zlib inflate of a gzip file, the output thrown away. */
#include <stdio.h>
#include <zlib.h>

int main(int argc, char **argv)
{
    static unsigned char in[1 << 18], out[1 << 20];
    z_stream z = {0};
    FILE *f = argc == 2 ? fopen(argv[1], "rb") : NULL;
    if (!f || inflateInit2(&z, MAX_WBITS + 16) != Z_OK) return 2;
    setvbuf(f, NULL, _IONBF, 0);
    int status = Z_OK;
    for (size_t n; status == Z_OK && (n = fread(in, 1, sizeof in, f)) > 0;) {
        z.next_in = in;
        z.avail_in = (uInt)n;
        do {
            z.next_out = out;
            z.avail_out = sizeof out;
            status = inflate(&z, Z_NO_FLUSH);
        } while (status == Z_OK && z.avail_out == 0);
        if (status == Z_BUF_ERROR) status = Z_OK; /* nothing was left for that last call */
    }
    inflateEnd(&z);
    return status != Z_STREAM_END;
}
