/* Asks an exported line at feeds given as bits and prints what it answers as bits. */
#include <stdio.h>
#include <string.h>

#include "line.h"
#include "line.h" /* the guard holds */

static unsigned int bits_of(float value)
{
    unsigned int bits;
    memcpy(&bits, &value, sizeof bits);
    return bits;
}

int main(void)
{
    unsigned int bits;
    printf("%s\n%s\n%s\n%s\n%d\n", LINE_NAME, LINE_WIRE, LINE_MADE_BY, LINE_CHECKSUM, LINE_FORMAT_VERSION);
    while (scanf("%x", &bits) == 1) {
        float feed;
        line_setting s;
        line_band b;
        int status;
        int band_status;
        memset(&s, 0x55, sizeof s);
        memset(&b, 0x55, sizeof b);
        memcpy(&feed, &bits, sizeof feed);
        status = line_evaluate(feed, &s);
        band_status = line_check_band(feed, &b);
        printf("%d %d %d %d %d ", status, band_status, line_standing(feed), s.support, s.standing);
        printf("%x %x %x %x ", bits_of(s.pulse_current_a), bits_of(s.pulse_time_ms), bits_of(s.pulse_frequency_hz),
               bits_of(s.background_current_a));
        printf("%x %x %x ", bits_of(s.background_time_ms), bits_of(s.rise_a_per_ms), bits_of(s.fall_a_per_ms));
        printf("%x %x %x ", bits_of(s.current_mean_a), bits_of(s.current_rms_a), bits_of(s.voltage_mean_v));
        printf("%x %x %x ", bits_of(b.current_mean_a_low), bits_of(b.current_mean_a_high), bits_of(b.voltage_mean_v_low));
        printf("%x %x %x\n", bits_of(b.voltage_mean_v_high), bits_of(b.power_mean_w_low), bits_of(b.power_mean_w_high));
    }
    return 0;
}
