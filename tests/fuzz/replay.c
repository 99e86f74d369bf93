/* Runs a fuzz target on saved cases: replay FILE...  Or, without a fuzzer at hand, on chance:
 * replay --random COUNT, bytes from an alphabet in which what means something is frequent. */
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n);

enum { CASE_MAX = 1 << 20, RANDOM_MAX = 600 };

static uint32_t chance(uint64_t *state)
{
    *state = *state * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return (uint32_t)(*state >> 33);
}

static void run_random(long count)
{
    static const char letters[] = "0123456789..--,,,,;;\t\t  \n\n\n\n\r\"\"x\xc3\xa9";
    uint8_t bytes[RANDOM_MAX];
    uint64_t state = 1;
    for (long k = 0; k < count; k++) {
        const size_t n = 2 + chance(&state) % (RANDOM_MAX - 2);
        /* Quotes, CRs and wild bytes in some cases only: else hardly any line is plain. */
        const uint32_t kind = chance(&state) % 4;
        for (size_t i = 0; i < n; i++) {
            const char c = letters[chance(&state) % (sizeof letters - 1)];
            const int odd = c == '"' || c == '\r';
            bytes[i] = (uint8_t)(odd && (kind == 0 || chance(&state) % 16) ? '1' : c);
            if (i < 2 || (kind == 3 && chance(&state) % 32 == 0))
                bytes[i] = (uint8_t)chance(&state);
        }
        LLVMFuzzerTestOneInput(bytes, n);
    }
}

int main(int argc, char **argv)
{
    static uint8_t bytes[CASE_MAX];
    if (argc == 3 && strcmp(argv[1], "--random") == 0) {
        run_random(strtol(argv[2], NULL, 10));
        return 0;
    }
    for (int i = 1; i < argc; i++) {
        FILE *f = fopen(argv[i], "rb");
        if (!f) {
            perror(argv[i]);
            return 1;
        }
        const size_t n = fread(bytes, 1, sizeof bytes, f);
        fclose(f);
        LLVMFuzzerTestOneInput(bytes, n);
    }
    return 0;
}
