#pragma once

namespace emberline::speed {

/// Each measures one thing and prints its part of the table to standard output.
void tcp_speed();      ///< requests a second over TCP, beside a plain libmodbus server
void stepped_speed();  ///< what one transaction of a stand-in costs in a stepped rehearsal
void story_speed();    ///< how long a rehearsal of eight hours takes
void plant_speed();    ///< what one simulated hour of one unit costs
void many_units();     ///< how many times faster than the clock a thousand units are
void panel_pages();    ///< how long answers take while fifty pages watch, beside none

}  // namespace emberline::speed
